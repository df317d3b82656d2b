#include "app/night_chart.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "app/local_time.h"
#include "base/angle.h"
#include "io/canvas.h"
#include "sky/airmass.h"

namespace ng::app {
namespace {

using io::Spot;
namespace palette = io::palette;

constexpr double kWidth = 1400, kLeft = 190, kRight = 70, kTop = 100, kPlot = 480;
constexpr double kClock = 34, kLane = 30, kFoot = 66;
constexpr double kFaint = 0.3;
constexpr double kBrightest_mag = 14, kDarkest_mag = 22;  // of the tones
constexpr io::Colour kDarkTone{0.70, 0.74, 0.80};
constexpr std::array kColours{palette::kBlue,      palette::kOrange, palette::kGreen,
                              palette::kVermilion, palette::kPurple, palette::kBlack};

io::Colour tone(double mag_arcsec2) {
  const double dark = std::clamp((mag_arcsec2 - kBrightest_mag) / (kDarkest_mag - kBrightest_mag), 0.0, 1.0);
  const auto mixed = [dark](double paper, double ink) { return paper + dark * (ink - paper); };
  return {mixed(1, kDarkTone.r), mixed(1, kDarkTone.g), mixed(1, kDarkTone.b)};
}

class Drawing {
 public:
  Drawing(io::Canvas& canvas, const ScheduleReply& reply, const LocalZone& zone)
      : canvas_(canvas), reply_(reply), zone_(zone) {
    for (const std::string& at : reply.sky.at) at_.push_back(*Instant::parse(at));
    step_s_ = at_.size() > 1 ? at_[1].seconds_since(at_[0]) : 60;
    from_ = at_.front().plus_seconds(-step_s_ / 2);
    span_s_ = at_.back().seconds_since(at_.front()) + step_s_;
  }

  void draw() {
    for (std::size_t i = 0; i < at_.size(); ++i)
      canvas_.rectangle(x(at_[i].plus_seconds(-step_s_ / 2)), kTop, kPlotWidth * step_s_ / span_s_ + 0.7, kPlot,
                        tone(reply_.sky.zenith_mag_arcsec2[i]));
    altitudes();
    limit();
    hours();
    twilight(reply_.dusk, reply_.local_dusk, "dark from ", io::Anchor::kLeft);
    twilight(reply_.dawn, reply_.local_dawn, "dark to ", io::Anchor::kRight);
    moon();
    for (std::size_t i = 0; i < reply_.sky.targets.size(); ++i) target(i);
    for (const ScheduleBlock& block : reply_.blocks) mark_block(block);
    moon_words();
    for (std::size_t i = 0; i < reply_.sky.targets.size(); ++i) number(i);
    canvas_.frame(kLeft, kTop, kPlotWidth, kPlot, {palette::kBlack, 1, false});
    words();
  }

 private:
  static constexpr double kPlotWidth = kWidth - kLeft - kRight;

  [[nodiscard]] double x(Instant at) const { return kLeft + kPlotWidth * at.seconds_since(from_) / span_s_; }
  [[nodiscard]] static double y(double altitude_deg) { return kTop + kPlot * (1 - altitude_deg / 90); }
  [[nodiscard]] static io::Colour colour(std::size_t target) { return kColours[target % kColours.size()]; }
  [[nodiscard]] static bool dashed(std::size_t target) { return target / kColours.size() % 2 == 1; }
  [[nodiscard]] static double lane_top(std::size_t target) {
    return kTop + kPlot + kClock + kLane * static_cast<double>(target);
  }
  [[nodiscard]] double lanes_bottom() const { return lane_top(reply_.sky.targets.size()); }
  [[nodiscard]] std::size_t number_of(const std::string& target) const {
    const auto& all = reply_.sky.targets;
    return static_cast<std::size_t>(
        std::find_if(all.begin(), all.end(), [&](const ScheduleCurve& c) { return c.target == target; }) - all.begin());
  }

  void altitudes() {
    for (const double altitude : {15.0, 30.0, 45.0, 60.0, 75.0, 90.0}) {
      if (altitude < 90)
        canvas_.line(std::vector{Spot{kLeft, y(altitude)}, Spot{kLeft + kPlotWidth, y(altitude)}},
                     {palette::kGrey.with_opacity(0.4), 0.7, false});
      canvas_.text({kLeft - 8, y(altitude) + 5}, fmt::format("{:g}°", altitude),
                   {14, palette::kBlack, io::Anchor::kRight, false, 0});
      canvas_.text({kLeft + kPlotWidth + 8, y(altitude) + 5}, fmt::format("{:.1f}", sky::airmass(deg_to_rad(altitude))),
                   {14, palette::kGrey, io::Anchor::kLeft, false, 0});
    }
    canvas_.text({kLeft - 8, kTop - 12}, "altitude", {14, palette::kBlack, io::Anchor::kRight, false, 0});
    canvas_.text({kWidth - 8, kTop - 12}, "airmass", {14, palette::kGrey, io::Anchor::kRight, false, 0});
  }

  // One line, where the limit is the same in every direction that the targets take.
  void limit() {
    double lowest = 90, highest = 0;
    for (const ScheduleCurve& c : reply_.sky.targets) {
      const auto [low, high] = std::minmax_element(c.limit_deg.begin(), c.limit_deg.end());
      lowest = std::min(lowest, *low);
      highest = std::max(highest, *high);
    }
    if (lowest != highest || lowest <= 0) return;
    canvas_.line(std::vector{Spot{kLeft, y(lowest)}, Spot{kLeft + kPlotWidth, y(lowest)}}, {palette::kBlack, 1, true});
    canvas_.text({kLeft + kPlotWidth - 8, y(lowest) + 16}, fmt::format("limit {:g}°", lowest),
                 {14, palette::kBlack, io::Anchor::kRight, false, 0});
  }

  void hours() {
    const auto seconds = static_cast<double>(from_.unix_us() % 60000000) * 1e-6;
    for (Instant at = from_.plus_seconds(60 - seconds); at < from_.plus_seconds(span_s_); at = at.plus_seconds(60)) {
      const std::string clock = zone_.clock(at);
      if (!clock.ends_with(":00")) continue;
      canvas_.line(std::vector{Spot{x(at), kTop}, Spot{x(at), lanes_bottom()}},
                   {palette::kGrey.with_opacity(0.4), 0.7, false});
      canvas_.text({x(at), kTop + kPlot + 22}, clock.substr(0, 2),
                   {15, palette::kBlack, io::Anchor::kMiddle, false, 0});
    }
    canvas_.text({kLeft - 8, kTop + kPlot + 22}, zone_.abbreviation(from_),
                 {14, palette::kBlack, io::Anchor::kRight, false, 0});
  }

  void twilight(const std::optional<std::string>& at, const std::optional<std::string>& clock, const char* label,
                io::Anchor anchor) {
    if (!at || !clock) return;
    const double place = x(*Instant::parse(*at));
    canvas_.line(std::vector{Spot{place, kTop}, Spot{place, kTop + kPlot}}, {palette::kBlack, 1, true});
    canvas_.text({place + (anchor == io::Anchor::kLeft ? 6 : -6), kTop + 18}, label + *clock,
                 {14, palette::kBlack, anchor, false, 0});
  }

  // The part of a curve for which `wanted` holds; the rest breaks it.
  template <typename Wanted>
  void curve(const std::vector<double>& altitude, const io::LineStyle& style, const Wanted& wanted) {
    std::vector<Spot> spots;
    for (std::size_t i = 0; i < at_.size(); ++i) {
      const bool shown = altitude[i] >= 0 && wanted(i);
      spots.push_back(shown ? Spot{x(at_[i]), y(altitude[i])} : Spot{std::nan(""), std::nan("")});
    }
    canvas_.line(spots, style);
  }

  void moon() {
    const auto& altitude = reply_.sky.moon_altitude_deg;
    curve(altitude, {palette::kYellow, 7, false}, [](std::size_t) { return true; });
    curve(altitude, {palette::kGrey, 1.2, false}, [](std::size_t) { return true; });
  }

  void moon_words() {
    const auto& altitude = reply_.sky.moon_altitude_deg;
    const auto highest =
        static_cast<std::size_t>(std::max_element(altitude.begin(), altitude.end()) - altitude.begin());
    if (altitude[highest] < 3) return;
    const std::string words = fmt::format("Moon, {:.0f} % lit", 100 * reply_.moon_illuminated_fraction);
    const io::TextStyle style{14, palette::kBlack, io::Anchor::kLeft, false, 0};
    const double width = canvas_.text_width(words, style);
    const double left = highest > at_.size() / 2 ? x(at_[highest]) - width - 10 : x(at_[highest]) + 10;
    canvas_.rectangle(left - 4, y(altitude[highest]) - 26, width + 8, 20, palette::kPaper.with_opacity(0.75));
    canvas_.text({left, y(altitude[highest]) - 11}, words, style);
  }

  void target(std::size_t i) {
    const ScheduleCurve& c = reply_.sky.targets[i];
    const auto above = [&c](std::size_t k) { return c.altitude_deg[k] >= c.limit_deg[k]; };
    curve(c.altitude_deg, {colour(i).with_opacity(kFaint), 1.5, dashed(i)}, [&](std::size_t) { return true; });
    curve(c.altitude_deg, {colour(i), 1.8, dashed(i)}, above);
    const double middle = lane_top(i) + kLane / 2;
    canvas_.line(std::vector{Spot{12, middle}, Spot{34, middle}}, {colour(i), 4, dashed(i)});
    canvas_.text({42, middle + 5}, fmt::format("{}  {}", i + 1, c.target),
                 {15, palette::kBlack, io::Anchor::kLeft, false, 0});
    canvas_.line(std::vector{Spot{kLeft, lane_top(i)}, Spot{kLeft + kPlotWidth, lane_top(i)}},
                 {palette::kGrey.with_opacity(0.4), 0.7, false});
  }

  // Its number in the middle of what can be used, where the curve is highest.
  void number(std::size_t i) {
    const ScheduleCurve& c = reply_.sky.targets[i];
    std::size_t best = at_.size();
    for (std::size_t k = 0; k < at_.size(); ++k)
      if (c.altitude_deg[k] >= c.limit_deg[k] && (best == at_.size() || c.altitude_deg[k] > c.altitude_deg[best]))
        best = k;
    if (best == at_.size()) return;
    // Numbers of curves that culminate together stand side by side.
    const Spot place{std::clamp(x(at_[best]), kLeft + 14, kLeft + kPlotWidth - 14), y(c.altitude_deg[best])};
    Spot free = place;
    const auto taken = [&](const Spot& s) {
      return std::any_of(numbers_.begin(), numbers_.end(),
                         [&](const Spot& n) { return std::hypot(n.x - s.x, n.y - s.y) < 24; });
    };
    for (int turn = 1; taken(free) && turn < 40; ++turn)
      free.x =
          std::clamp(place.x + (turn % 2 == 1 ? 1 : -1) * 13.0 * ((turn + 1) / 2), kLeft + 14, kLeft + kPlotWidth - 14);
    numbers_.push_back(free);
    canvas_.disc(free, 11, palette::kPaper);
    canvas_.ring(free, 11, {colour(i), 2, false});
    canvas_.text({free.x, free.y + 5}, fmt::format("{}", i + 1), {14, palette::kBlack, io::Anchor::kMiddle, true, 0});
  }

  void mark_block(const ScheduleBlock& block) {
    const std::size_t i = number_of(block.target);
    const Instant begin = *Instant::parse(block.begin), end = *Instant::parse(block.end);
    const ScheduleCurve& c = reply_.sky.targets[i];
    curve(c.altitude_deg, {colour(i), 5, false}, [&](std::size_t k) { return at_[k] >= begin && at_[k] <= end; });
    const double left = x(begin), width = x(end) - left;
    canvas_.rectangle(left, lane_top(i) + 3, width, kLane - 6, colour(i).with_opacity(0.25));
    canvas_.frame(left, lane_top(i) + 3, width, kLane - 6, {colour(i), 1.5, false});
    const io::TextStyle style{13, palette::kBlack, io::Anchor::kMiddle, false, 0};
    const bool narrow = canvas_.text_width(block.filter, style) > width - 2;
    canvas_.text({left + width / 2, lane_top(i) + kLane / 2 + 5}, narrow ? block.filter.substr(0, 1) : block.filter,
                 style);
    if (!block.flip) return;
    const double flip = std::clamp(x(*Instant::parse(*block.flip)), left, left + width);
    canvas_.line(std::vector{Spot{flip, lane_top(i)}, Spot{flip, lane_top(i) + kLane}}, {palette::kBlack, 2.5, false});
  }

  void words() {
    canvas_.text({16, 38}, fmt::format("Night of {}, {}", reply_.night, reply_.site),
                 {25, palette::kBlack, io::Anchor::kLeft, true, 0});
    canvas_.text({16, 66},
                 fmt::format("sunset {}, sunrise {}; clock of {}", reply_.local_sunset.value_or("none"),
                             reply_.local_sunrise.value_or("none"), reply_.time_zone),
                 {15, palette::kGrey, io::Anchor::kLeft, false, 0});
    const double line = lanes_bottom() + 34;
    const io::TextStyle small{14, palette::kBlack, io::Anchor::kLeft, false, 0};
    canvas_.text({16, line}, "thick: exposed; faint: below its limit; upright bar: meridian flip", small);
    double place = kLeft + kPlotWidth - 330;
    canvas_.text({place - 12, line}, "sky at the zenith, mag/arcsec²",
                 {14, palette::kBlack, io::Anchor::kRight, false, 0});
    for (double mag = kBrightest_mag; mag <= kDarkest_mag; mag += 2, place += 66) {
      canvas_.rectangle(place, line - 16, 66, 22, tone(mag));
      canvas_.text({place + 33, line}, fmt::format("{:g}", mag), {14, palette::kBlack, io::Anchor::kMiddle, false, 0});
    }
    canvas_.frame(place - 330, line - 16, 330, 22, {palette::kGrey, 1, false});
  }

  io::Canvas& canvas_;
  const ScheduleReply& reply_;
  const LocalZone& zone_;
  std::vector<Instant> at_;
  Instant from_;
  double step_s_ = 60, span_s_ = 60;
  std::vector<Spot> numbers_;
};

}  // namespace

Result<void> draw_night_chart(const ScheduleReply& reply, const std::filesystem::path& path, io::Overwrite overwrite) {
  NG_TRY(const LocalZone zone, LocalZone::find(reply.time_zone));
  const double height = kTop + kPlot + kClock + kLane * static_cast<double>(reply.sky.targets.size()) + kFoot;
  NG_TRY(io::Canvas canvas,
         io::Canvas::create(path, static_cast<int>(kWidth), static_cast<int>(height), palette::kPaper));
  Drawing(canvas, reply, zone).draw();
  return canvas.commit(overwrite);
}

}  // namespace ng::app
