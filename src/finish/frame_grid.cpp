#include "finish/frame_grid.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "base/angle.h"

namespace ng::finish {
namespace {

constexpr int kSamples = 33;  // along each side, to find what the frame spans
constexpr double kLinesWanted = 5;
constexpr std::array kSteps{1.0 / 3600, 2.0 / 3600, 5.0 / 3600, 10.0 / 3600, 20.0 / 3600, 30.0 / 3600,
                            1.0 / 60,   2.0 / 60,   5.0 / 60,   10.0 / 60,   20.0 / 60,   30.0 / 60,
                            1.0,        2.0,        5.0,        10.0,        20.0,        30.0};

struct Frame {
  const Wcs& wcs;
  int width, height;
  [[nodiscard]] bool holds(math::Point p) const {
    return p.x >= -0.5 && p.y >= -0.5 && p.x <= width - 0.5 && p.y <= height - 0.5;
  }
  [[nodiscard]] std::optional<math::Point> pixel(double ra_deg, double dec_deg) const {
    const auto p = wcs.pixel_of({deg_to_rad(ra_deg), deg_to_rad(dec_deg)});
    return p && holds(*p) ? p : std::nullopt;
  }
};

struct Span {
  double ra_from = 0, ra_to = 360, dec_from = -90, dec_to = 90;  // degrees; right ascension may exceed 360
};

Span span_of(const Frame& f) {
  const SkyPlace middle = f.wcs.sky_of({(f.width - 1) / 2.0, (f.height - 1) / 2.0});
  Span s{1e9, -1e9, 90, -90};
  for (int j = 0; j < kSamples; ++j)
    for (int i = 0; i < kSamples; ++i) {
      const SkyPlace p = f.wcs.sky_of({-0.5 + f.width * i / (kSamples - 1.0), -0.5 + f.height * j / (kSamples - 1.0)});
      const double ra = rad_to_deg(middle.ra_rad) + std::remainder(rad_to_deg(p.ra_rad - middle.ra_rad), 360.0);
      s.ra_from = std::min(s.ra_from, ra);
      s.ra_to = std::max(s.ra_to, ra);
      s.dec_from = std::min(s.dec_from, rad_to_deg(p.dec_rad));
      s.dec_to = std::max(s.dec_to, rad_to_deg(p.dec_rad));
    }
  const bool north = f.pixel(0, 90).has_value(), south = f.pixel(0, -90).has_value();
  if (north) s.dec_to = 90;
  if (south) s.dec_from = -90;
  if (north || south) s.ra_from = 0, s.ra_to = 360;
  return s;
}

double step_for(double span) {
  for (const double step : kSteps)
    if (span / step <= kLinesWanted + 1) return step;
  return kSteps.back();
}

std::string in_sixties(double value, double step, const char* unit, const char* sixtieth, const char* second) {
  const auto seconds = std::llround(std::fabs(value) * 3600);
  std::string text = fmt::format("{}{}", seconds / 3600, unit);
  if (step < 1) text += fmt::format(" {:02}{}", seconds / 60 % 60, sixtieth);
  if (step < 1.0 / 60) text += fmt::format(" {:02}{}", seconds % 60, second);
  return text;
}

// Between a place on the frame and one beyond it, the border.
template <typename At>
math::Point crossing(const At& at, double inside, double outside) {
  for (int k = 0; k < 40; ++k) {
    const double middle = (inside + outside) / 2;
    (at(middle) ? inside : outside) = middle;
  }
  return *at(inside);
}

// at(t): the place on the frame, or nothing where the line is beyond it.
template <typename At>
std::vector<std::vector<math::Point>> trace(const At& at, double from, double to, int steps) {
  std::vector<std::vector<math::Point>> pieces;
  std::optional<math::Point> before;
  double t_before = from;
  for (int k = 0; k <= steps; ++k) {
    const double t = from + (to - from) * k / steps;
    const auto p = at(t);
    if (p && !before) {
      pieces.emplace_back();
      if (k > 0) pieces.back().push_back(crossing(at, t, t_before));
    }
    if (p) pieces.back().push_back(*p);
    if (!p && before) pieces.back().push_back(crossing(at, t_before, t));
    before = p;
    t_before = t;
  }
  std::erase_if(pieces, [](const auto& piece) { return piece.size() < 2; });
  return pieces;
}

// A circle round the pole that leaves the frame is cut there, not where right ascension begins anew.
void join_round_pole(std::vector<std::vector<math::Point>>& pieces) {
  if (pieces.size() < 2) return;
  const math::Point a = pieces.front().front(), b = pieces.back().back();
  if (std::hypot(a.x - b.x, a.y - b.y) > 1e-6) return;
  pieces.back().insert(pieces.back().end(), pieces.front().begin() + 1, pieces.front().end());
  pieces.erase(pieces.begin());
}

void add_lines(const Frame& f, const Span& s, std::vector<GridLine>& lines) {
  constexpr int kPoints = 240;
  const double dec_step = step_for(s.dec_to - s.dec_from);
  const double ra_step = 15 * step_for((s.ra_to - s.ra_from) / 15);
  // A little beyond what was sampled: between the samples the border may bulge.
  const double ra_more = std::min(s.ra_to - s.ra_from, 360.0) / kSamples, dec_more = (s.dec_to - s.dec_from) / kSamples;
  const double ra_from = s.ra_from - ra_more, ra_to = std::min(s.ra_to + ra_more, s.ra_from - ra_more + 360);
  const double dec_from = std::max(-90.0, s.dec_from - dec_more), dec_to = std::min(90.0, s.dec_to + dec_more);
  for (double k = std::ceil(ra_from / ra_step); k * ra_step < ra_to; ++k) {
    const double ra = k * ra_step;
    GridLine line{true, ra - 360 * std::floor(ra / 360), "", {}};
    line.label = in_sixties(line.value_deg / 15, ra_step / 15, "h", "m", "s");
    line.pieces = trace([&](double dec) { return f.pixel(ra, dec); }, dec_from, dec_to, kPoints);
    if (!line.pieces.empty()) lines.push_back(std::move(line));
  }
  for (double k = std::ceil(dec_from / dec_step); k * dec_step <= dec_to; ++k) {
    const double dec = k * dec_step;
    if (std::fabs(dec) > 90 - 1e-9) continue;
    GridLine line{false, dec, "", {}};
    line.label = (dec < -1e-9 ? "-" : "+") + in_sixties(dec, dec_step, "°", "'", "\"");
    line.pieces = trace([&](double ra) { return f.pixel(ra, dec); }, ra_from, ra_to, kPoints);
    join_round_pole(line.pieces);
    if (!line.pieces.empty()) lines.push_back(std::move(line));
  }
}

math::Point unit_towards(math::Point from, math::Point to) {
  const double length = std::hypot(to.x - from.x, to.y - from.y);
  return {(to.x - from.x) / length, (to.y - from.y) / length};
}

// Seen from the middle a hundredth of a pixel away: no curve counts there, and the poles do not either.
SkyDirections directions_at(const Wcs& wcs, math::Point middle) {
  const SkyPlace here = wcs.sky_of(middle);
  const double small = 0.01 * wcs.scale_rad();
  SkyDirections d{{0, -1}, {-1, 0}};
  const auto north = wcs.pixel_of({here.ra_rad, here.dec_rad + small});
  const auto east = wcs.pixel_of({here.ra_rad + small / std::max(1e-9, std::cos(here.dec_rad)), here.dec_rad});
  if (north) d.north = unit_towards(middle, *north);
  if (east) d.east = unit_towards(middle, *east);
  return d;
}

ScaleBar scale_bar(const Wcs& wcs, int width) {
  const double longest_deg = rad_to_deg(wcs.scale_rad()) * width / 4;
  double length = kSteps.front();
  for (const double step : kSteps)
    if (step <= longest_deg) length = step;
  ScaleBar bar;
  bar.length_rad = deg_to_rad(length);
  bar.length_px = bar.length_rad / wcs.scale_rad();
  const auto seconds = std::llround(length * 3600);
  bar.label = seconds >= 3600 ? fmt::format("{}°", seconds / 3600)
              : seconds >= 60 ? fmt::format("{}'", seconds / 60)
                              : fmt::format("{}\"", seconds);
  return bar;
}

}  // namespace

FrameGrid frame_grid(const Wcs& wcs, int width, int height) {
  const Frame frame{wcs, width, height};
  FrameGrid grid;
  add_lines(frame, span_of(frame), grid.lines);
  grid.scale = scale_bar(wcs, width);
  grid.directions = directions_at(wcs, {(width - 1) / 2.0, (height - 1) / 2.0});
  return grid;
}

}  // namespace ng::finish
