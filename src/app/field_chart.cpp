#include "app/field_chart.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "io/canvas.h"

namespace ng::app {
namespace {

using io::Spot;
namespace palette = io::palette;

constexpr int kSide = 1100, kTop = 84, kBottom = 64;
constexpr double kGridOpacity = 0.35;

io::Colour colour_of(catalog::ObjectKind kind) {
  using catalog::ObjectKind;
  switch (kind) {
    case ObjectKind::kGalaxy:
    case ObjectKind::kGalaxyCluster:
      return palette::kVermilion;
    case ObjectKind::kOpenCluster:
    case ObjectKind::kGlobularCluster:
      return palette::kBlue;
    case ObjectKind::kDarkNebula:
      return palette::kGrey;
    default:
      return palette::kGreen;
  }
}

// Steps of a grid that people read: about five across the chart.
double nice_step(double span, std::initializer_list<double> steps) {
  for (const double step : steps)
    if (span / step <= 6) return step;
  return *(steps.end() - 1);
}

class Drawing {
 public:
  Drawing(io::Canvas& canvas, const FieldChart& chart) : canvas_(canvas), chart_(chart), plane_(chart.centre) {
    scale_ = kSide / 2.0 / std::tan(chart.radius_rad);
  }

  void draw() {
    grid();
    for (const catalog::SkyObject& o : chart_.objects) object(o);
    for (const catalog::CatalogStar& s : chart_.stars) star(s);
    for (std::size_t i = 0; i < chart_.panels.size(); ++i) panel(chart_.panels[i], i + 1);
    labels();
    edge();
  }

 private:
  [[nodiscard]] std::optional<Spot> spot(sky::Direction d) const {
    const auto p = plane_.project(d);
    if (!p) return std::nullopt;
    return Spot{kSide / 2.0 - p->xi * scale_, kTop + kSide / 2.0 - p->eta * scale_};
  }
  [[nodiscard]] static bool inside(const Spot& s, double margin = 0) {
    return s.x >= margin && s.x <= kSide - margin && s.y >= kTop + margin && s.y <= kTop + kSide - margin;
  }
  // A line along directions, cut at the edge of the chart.
  void curve(const std::vector<sky::Direction>& directions, const io::LineStyle& style) {
    std::vector<Spot> spots;
    const double none = std::nan("");
    for (const sky::Direction& d : directions) {
      const auto s = spot(d);
      spots.push_back(s && inside(*s) ? *s : Spot{none, none});
    }
    canvas_.line(spots, style);
  }

  void grid() {
    const io::LineStyle thin{palette::kGrey.with_opacity(kGridOpacity), 0.8, false};
    const io::TextStyle small{12, palette::kGrey, io::Anchor::kLeft, false, 0};
    const double reach = rad_to_deg(chart_.radius_rad) * 1.5;
    const double dec0 = rad_to_deg(chart_.centre.dec_rad), ra0 = rad_to_deg(chart_.centre.ra_rad);
    const double dec_step = nice_step(2 * reach / 1.5, {0.05, 0.1, 0.25, 0.5, 1, 2, 5, 10, 20});
    const double widest = std::max(0.02, std::cos(deg_to_rad(std::min(89.0, std::fabs(dec0) + reach))));
    const double ra_reach = std::min(180.0, reach / widest);
    const double ra_step =
        15 * nice_step(2 * reach / 1.5 / std::max(0.02, std::cos(deg_to_rad(dec0))) / 15,
                       {1 / 240.0, 1 / 120.0, 1 / 60.0, 1 / 30.0, 1 / 12.0, 1 / 6.0, 1 / 3.0, 0.5, 1, 2, 3});
    for (double dec = std::ceil(std::max(-90.0, dec0 - reach) / dec_step) * dec_step;
         dec <= std::min(90.0, dec0 + reach); dec += dec_step) {
      std::vector<sky::Direction> line;
      for (int i = 0; i <= 200; ++i)
        line.push_back({deg_to_rad(ra0 - ra_reach + 2 * ra_reach * i / 200), deg_to_rad(dec)});
      curve(line, thin);
      const auto s = spot({chart_.centre.ra_rad, deg_to_rad(dec)});
      if (s && inside({8, s->y}, 8)) canvas_.text({6, s->y - 4}, fmt::format("{:+.4g}°", dec), small);
    }
    for (double ra = std::ceil((ra0 - ra_reach) / ra_step) * ra_step; ra <= ra0 + ra_reach; ra += ra_step) {
      std::vector<sky::Direction> line;
      for (int i = 0; i <= 200; ++i)
        line.push_back({deg_to_rad(ra), deg_to_rad(std::clamp(dec0 - reach + 2 * reach * i / 200, -90.0, 90.0))});
      curve(line, thin);
      const auto s = spot({deg_to_rad(ra), chart_.centre.dec_rad});
      if (s && inside({s->x, kTop + 20.0}, 8))
        canvas_.text({s->x + 4, kTop + kSide - 6}, format_ra(ra).substr(0, 8), small);
    }
  }

  void star(const catalog::CatalogStar& s) {
    const auto at = spot({s.ra_rad, s.dec_rad});
    constexpr double kFaintest = 11;
    if (at && inside(*at)) canvas_.disc(*at, std::clamp(0.7 + 0.75 * (kFaintest - s.v_mag), 0.7, 9.0), palette::kBlack);
  }

  // Position angles are not in the catalogue: a ring of the larger diameter, and one of the smaller when they differ.
  void object(const catalog::SkyObject& o) {
    const auto at = spot(o.place);
    if (!at || !inside(*at)) return;
    const double radius = std::max(5.0, deg_to_rad(o.major_arcmin.value_or(0) / 120) * scale_);
    canvas_.disc(*at, radius, colour_of(o.kind).with_opacity(0.10));
    canvas_.ring(*at, radius, {colour_of(o.kind), 1.4, o.kind == catalog::ObjectKind::kDarkNebula});
    const double minor = deg_to_rad(o.minor_arcmin.value_or(0) / 120) * scale_;
    if (minor > 8 && minor < 0.9 * radius) canvas_.ring(*at, minor, {colour_of(o.kind).with_opacity(0.5), 1, true});
  }

  void labels() {
    std::vector<std::array<double, 4>> taken;  // left, top, right, bottom
    for (const catalog::SkyObject& o : chart_.objects) {
      const auto at = spot(o.place);
      if (!at || !inside(*at, 30)) continue;
      const io::TextStyle style{13, colour_of(o.kind), io::Anchor::kMiddle, true, 0};
      const double radius = std::min(120.0, std::max(5.0, deg_to_rad(o.major_arcmin.value_or(0) / 120) * scale_));
      const double half = canvas_.text_width(o.names.front(), style) / 2;
      const Spot words{std::clamp(at->x, half + 6, kSide - half - 6),
                       std::min(at->y + radius + 15, kTop + kSide - 24.0)};
      const std::array<double, 4> box{words.x - half, words.y - 12, words.x + half, words.y + 4};
      const bool free = std::none_of(taken.begin(), taken.end(), [&](const auto& t) {
        return box[0] < t[2] && t[0] < box[2] && box[1] < t[3] && t[1] < box[3];
      });
      if (!free) continue;
      taken.push_back(box);
      canvas_.text(words, o.names.front(), style);
    }
  }

  void panel(const plan::Panel& p, std::size_t number) {
    std::vector<Spot> spots;
    for (int side = 0; side < 4; ++side)
      for (int i = 0; i < 16; ++i) {
        const double along = -1 + 2 * i / 16.0;
        const double x[] = {along, 1, -along, -1}, y[] = {1, -along, -1, along};
        if (const auto s = spot(p.field.at(x[side], y[side]))) spots.push_back(*s);
      }
    if (spots.empty()) return;
    spots.push_back(spots.front());
    canvas_.line(spots, {palette::kOrange, 2.4, false});
    if (chart_.panels.size() > 1)
      if (const auto s = spot(p.field.at(-0.92, 0.84)))
        canvas_.text(*s, fmt::format("{}", number), {17, palette::kOrange, io::Anchor::kLeft, true, 0});
    // The upper side of the picture has a small mark.
    const auto foot = spot(p.field.at(0, 1)), tip = spot(p.field.at(0, 1.07));
    if (foot && tip) canvas_.line(std::vector{*foot, *tip}, {palette::kOrange, 2.4, false});
  }

  void edge() {
    canvas_.rectangle(0, 0, kSide, kTop, palette::kPaper);
    canvas_.rectangle(0, kTop + kSide, kSide, kBottom, palette::kPaper);
    canvas_.frame(0.5, kTop + 0.5, kSide - 1, kSide - 1, {palette::kBlack, 1, false});
    canvas_.text({16, 36}, chart_.title, {24, palette::kBlack, io::Anchor::kLeft, true, 0});
    canvas_.text({16, 64}, chart_.subtitle, {15, palette::kGrey, io::Anchor::kLeft, false, 0});
    const double y = kTop + kSide + 40;
    double x = 16;
    const auto entry = [&](const char* words, io::Colour colour) {
      const io::TextStyle style{14, palette::kBlack, io::Anchor::kLeft, false, 0};
      canvas_.ring({x + 7, y - 5}, 6, {colour, 2, false});
      canvas_.text({x + 20, y}, words, style);
      x += 20 + canvas_.text_width(words, style) + 24;
    };
    entry("galaxy", palette::kVermilion);
    entry("nebula", palette::kGreen);
    entry("cluster", palette::kBlue);
    entry("dark nebula", palette::kGrey);
    entry("frame, mark at its upper side", palette::kOrange);
    const double arcmin = nice_step(rad_to_deg(chart_.radius_rad) * 60, {1, 2, 5, 10, 20, 30, 60, 120, 300, 600});
    const double length = std::tan(deg_to_rad(arcmin / 60)) * scale_;
    canvas_.line(std::vector{Spot{kSide - 16 - length, y - 4}, Spot{kSide - 16.0, y - 4}}, {palette::kBlack, 3, false});
    canvas_.text({kSide - 24 - length, y},
                 arcmin < 60 ? fmt::format("{:g}'", arcmin) : fmt::format("{:g}°", arcmin / 60),
                 {14, palette::kBlack, io::Anchor::kRight, false, 0});
    canvas_.text({kSide - 16, 40}, "N up, E left", {14, palette::kGrey, io::Anchor::kRight, false, 0});
  }

  io::Canvas& canvas_;
  const FieldChart& chart_;
  sky::TangentPlane plane_;
  double scale_ = 1;  // pixels per unit of the tangent plane
};

}  // namespace

Result<void> draw_field_chart(const FieldChart& chart, const std::filesystem::path& path, io::Overwrite overwrite) {
  NG_TRY(io::Canvas canvas, io::Canvas::create(path, kSide, kTop + kSide + kBottom, palette::kPaper));
  Drawing(canvas, chart).draw();
  return canvas.commit(overwrite);
}

}  // namespace ng::app
