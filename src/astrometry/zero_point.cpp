#include "astrometry/zero_point.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "astrometry/robust_line.h"

namespace ng::astrometry {
namespace {

constexpr double kMagnitudeOfShare = 1.0857362047581294;  // 2.5 / ln 10
constexpr std::size_t kColouredNeeded = 12;
constexpr double kColourSpread = 0.3;
constexpr double kSlopeSigmas = 3;
constexpr double kCatalogueError = 0.01;  // no published magnitude and no flat is better (common practice, no source)

int count(const std::vector<bool>& outliers) {
  return static_cast<int>(std::count(outliers.begin(), outliers.end(), true));
}

}  // namespace

Result<ZeroPoint> zero_point(std::span<const PhotometryStar> stars) {
  std::vector<LinePoint> all, coloured;
  for (const PhotometryStar& s : stars) {
    if (!(s.rate > 0)) continue;
    const LinePoint p{s.colour.value_or(0), s.magnitude + 2.5 * std::log10(s.rate),
                      std::hypot(kMagnitudeOfShare * s.rate_error / s.rate, kCatalogueError)};
    all.push_back(p);
    if (s.colour) coloured.push_back(p);
  }
  if (all.size() < 3)
    return Error(Code::kTooFew,
                 fmt::format("{} stars of the catalogue have a flux here: 3 make a zero point", all.size()));
  ZeroPoint z;
  RobustLine line = fit_line(all, false);
  std::size_t used = all.size();
  if (coloured.size() >= kColouredNeeded && 2 * coloured.size() > all.size()) {
    const auto [low, high] =
        std::minmax_element(coloured.begin(), coloured.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
    const RobustLine slanted = fit_line(coloured, true);
    if (high->x - low->x > kColourSpread && std::fabs(slanted.slope) > kSlopeSigmas * slanted.slope_error) {
      line = slanted;
      used = coloured.size();
      z.colour_term = line.slope;
      z.colour_term_error = line.slope_error;
    }
  }
  if (z.colour_term) {
    z.colour = line.x0;
  } else if (!coloured.empty()) {
    double sum = 0;
    for (const LinePoint& p : coloured) sum += p.x;
    z.colour = sum / static_cast<double>(coloured.size());
  }
  z.magnitude = line.level;
  z.error = line.level_error;
  z.scatter = line.scatter;
  z.stars = static_cast<int>(used);
  z.outliers = count(line.outlier);
  return z;
}

Result<Extinction> extinction(std::span<const AirmassPoint> frames) {
  std::vector<LinePoint> points;
  for (const AirmassPoint& f : frames) points.push_back({f.airmass, f.zero_point, std::hypot(f.error, 0.002)});
  const auto by_x = [](const LinePoint& a, const LinePoint& b) { return a.x < b.x; };
  if (points.size() < 4 || std::max_element(points.begin(), points.end(), by_x)->x -
                                   std::min_element(points.begin(), points.end(), by_x)->x <
                               0.1)
    return Error(Code::kTooFew, "extinction needs 4 frames or more that spread over 0.1 airmasses");
  const RobustLine line = fit_line(points, true);
  return Extinction{line.level - line.slope * line.x0,
                    std::hypot(line.level_error, line.slope_error * line.x0),
                    -line.slope,
                    line.slope_error,
                    line.scatter,
                    static_cast<int>(points.size()),
                    count(line.outlier)};
}

double limiting_magnitude(double zero_point, double sigmas, double noise, double noise_area_px,
                          double electrons_per_unit, double seconds) {
  // F^2 = s^2 (F / g + A n^2)
  const double photon = electrons_per_unit > 0 ? sigmas * sigmas / electrons_per_unit : 0;
  const double flux = photon / 2 + std::sqrt(photon * photon / 4 + sigmas * sigmas * noise_area_px * noise * noise);
  return zero_point - 2.5 * std::log10(flux / seconds);
}

}  // namespace ng::astrometry
