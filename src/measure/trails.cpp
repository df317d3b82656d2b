#include "measure/trails.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "math/counted.h"
#include "math/line_sums.h"
#include "math/robust.h"
#include "measure/trail_bins.h"
#include "measure/trail_lines.h"

namespace ng::measure {
namespace {

// Marks what belongs to stars, at half size.
Image<std::uint8_t> star_mask(std::span<const Disc> stars, int width, int height) {
  Image<std::uint8_t> mask(width, height, 1, std::uint8_t{0});
  for (const Disc& full : stars) {
    const Disc s{(full.x - 0.5) / 2, (full.y - 0.5) / 2, full.radius / 2};
    const int reach = static_cast<int>(std::ceil(s.radius));
    const int cy = static_cast<int>(std::lround(s.y));
    for (int y = std::max(0, cy - reach); y <= std::min(height - 1, cy + reach); ++y) {
      const double half = std::sqrt(std::max(0.0, s.radius * s.radius - (y - s.y) * (y - s.y)));
      const int x0 = std::max(0, static_cast<int>(std::ceil(s.x - half)));
      const int x1 = std::min(width - 1, static_cast<int>(std::floor(s.x + half)));
      if (x0 <= x1) std::fill_n(mask.plane().row(y) + x0, x1 - x0 + 1, std::uint8_t{1});
    }
  }
  return mask;
}

Trail trail_through(const Course& c) {
  const double length = std::hypot(c.x1 - c.x0, c.y1 - c.y0);
  Trail t;
  t.normal_x = -(c.y1 - c.y0) / length;
  t.normal_y = (c.x1 - c.x0) / length;
  t.distance = t.normal_x * c.x0 + t.normal_y * c.y0;
  t.snr = c.snr;
  return t;
}

// The places of row y, of 0 ... width - 1, that lie within `reach` of the line: begin ... end - 1.
struct Near {
  int begin, end;
};
Near near_line(const Trail& t, double reach, int y, int width) {
  const double at = t.across(0, y);
  if (std::fabs(t.normal_x) < 1e-9) return {0, std::fabs(at) <= reach ? width : 0};
  const double a = (-reach - at) / t.normal_x, b = (reach - at) / t.normal_x;
  const int begin = static_cast<int>(std::ceil(std::clamp<double>(std::min(a, b), 0, width)));
  const int end = static_cast<int>(std::floor(std::clamp<double>(std::max(a, b), -1, width - 1))) + 1;
  return {begin, std::max(begin, end)};
}

constexpr int kAcross = 24;  // pixels to each side that a course is looked for

// Mean light across the line, for pieces of its length.
class CrossSections {
 public:
  static constexpr int kPieces = 24;
  static constexpr int kSide = 2 * kAcross + 1;

  CrossSections(View<const float> image, const BackgroundMap& background, View<const std::uint8_t> mask,
                const Trail& trail) {
    // Along the line from the point nearest to the frame's centre.
    const double cx = image.width / 2.0, cy = image.height / 2.0;
    const double off = trail.across(cx, cy);
    x_ = cx - off * trail.normal_x;
    y_ = cy - off * trail.normal_y;
    reach_ = std::hypot(image.width, image.height) / 2;
    std::vector<float> standard(static_cast<std::size_t>(image.width));
    for (int y = 0; y < image.height; ++y) {
      const Near near = near_line(trail, kAcross, y, image.width);
      if (near.begin >= near.end) continue;
      background.standardise_row(y, image.row(y), near.begin, near.end, standard.data());
      // An odd last column or row has no pixel of half size.
      const std::uint8_t* masked = mask.row(std::min(y / 2, mask.height - 1));
      // Both grow evenly along the row. Held inside: rounding can carry a pixel at the rim beyond it.
      const double across = trail.across(near.begin, y) + kAcross + 0.5;
      const double along = (near.begin - x_) * trail.normal_y - (y - y_) * trail.normal_x;
      const double pieces_per_pixel = kPieces / (2 * reach_);
      const auto place = static_cast<float>(across), step = static_cast<float>(trail.normal_x);
      const auto piece0 = static_cast<float>(along * pieces_per_pixel + kPieces / 2.0);
      const auto piece_step = static_cast<float>(trail.normal_y * pieces_per_pixel);
      for (int x = near.begin; x < near.end; ++x) {
        const float v = standard[static_cast<std::size_t>(x)];
        if (masked[std::min(x / 2, mask.width - 1)] != 0 || std::isnan(v)) continue;
        const auto from_begin = static_cast<float>(x - near.begin);
        const int d = std::clamp(static_cast<int>(place + from_begin * step), 0, kSide - 1);
        const int piece = std::clamp(static_cast<int>(piece0 + from_begin * piece_step), 0, kPieces - 1);
        const auto k = static_cast<std::size_t>(piece * kSide + d);
        sum_[k] += std::clamp(v, -kTop, kTop);
        count_[k] += 1;
      }
    }
  }

  [[nodiscard]] double mean(int piece, int across) const {
    const auto k = static_cast<std::size_t>(piece * kSide + across + kAcross);
    return count_[k] > 0 ? static_cast<double>(sum_[k]) / count_[k] : 0;
  }
  [[nodiscard]] double count(int piece, int across) const {
    return count_[static_cast<std::size_t>(piece * kSide + across + kAcross)];
  }
  [[nodiscard]] double along(int piece) const { return ((piece + 0.5) / kPieces * 2 - 1) * reach_; }
  [[nodiscard]] double x() const { return x_; }
  [[nodiscard]] double y() const { return y_; }

 private:
  static constexpr float kTop = 60;  // sigma: what is brighter than any trail is a star that was not masked
  double x_ = 0, y_ = 0, reach_ = 1;
  std::array<float, kPieces * kSide> sum_{};
  std::array<float, kPieces * kSide> count_{};
};

// Straight course through the crests of the pieces; false when too few of them agree.
bool follow(View<const float> image, const BackgroundMap& background, View<const std::uint8_t> mask, Trail& trail) {
  const CrossSections sections(image, background, mask, trail);
  std::vector<std::pair<double, double>> crests;  // along, across
  for (int piece = 0; piece < CrossSections::kPieces; ++piece) {
    int best = 0;
    double top = 0;
    for (int a = -kAcross + 1; a < kAcross; ++a) {
      const double n = sections.count(piece, a - 1) + sections.count(piece, a) + sections.count(piece, a + 1);
      if (n < 30) continue;
      const double light = (sections.mean(piece, a - 1) + sections.mean(piece, a) + sections.mean(piece, a + 1)) / 3;
      if (light * std::sqrt(n) > top) {
        top = light * std::sqrt(n);
        best = a;
      }
    }
    if (top > 4) crests.emplace_back(sections.along(piece), best);
  }
  if (crests.size() < 4) return false;
  // Theil & Sen's line: the median of the slopes between all pairs, then of the offsets.
  std::vector<double> slopes, offsets;
  for (std::size_t i = 0; i < crests.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      slopes.push_back((crests[i].second - crests[j].second) / (crests[i].first - crests[j].first));
  const double slope = math::median(std::span<double>(slopes));
  for (const auto& [along, across] : crests) offsets.push_back(across - slope * along);
  const double offset = math::median(std::span<double>(offsets));
  const auto near = std::count_if(crests.begin(), crests.end(),
                                  [&](const auto& c) { return std::fabs(c.second - offset - slope * c.first) <= 3; });
  if (2 * near < static_cast<long>(crests.size())) return false;
  // The direction along the line is (normal_y, -normal_x).
  const double angle = std::atan(slope);
  const double nx = trail.normal_x * std::cos(angle) - trail.normal_y * std::sin(angle);
  const double ny = trail.normal_y * std::cos(angle) + trail.normal_x * std::sin(angle);
  const double px = sections.x() + offset * trail.normal_x, py = sections.y() + offset * trail.normal_y;
  trail.normal_x = nx;
  trail.normal_y = ny;
  trail.distance = nx * px + ny * py;
  return true;
}

// Width and brightness from the mean cross section; false when it is no narrow crest.
bool measure_section(View<const float> image, const BackgroundMap& background, View<const std::uint8_t> mask,
                     const TrailOptions& options, Trail& trail) {
  const CrossSections sections(image, background, mask, trail);
  std::array<double, CrossSections::kSide> light{}, number{};
  for (int a = -kAcross; a <= kAcross; ++a) {
    const auto k = static_cast<std::size_t>(a + kAcross);
    for (int piece = 0; piece < CrossSections::kPieces; ++piece) {
      light[k] += sections.mean(piece, a) * sections.count(piece, a);
      number[k] += sections.count(piece, a);
    }
    if (number[k] < 50) return false;
    light[k] /= number[k];
  }
  double sky = 0;
  int n = 0;
  for (int a = -kAcross; a <= kAcross; ++a)
    if (std::abs(a) > 2 * kAcross / 3) sky += light[static_cast<std::size_t>(a + kAcross)], ++n;
  sky /= n;
  double peak = 0;
  for (int a = -2; a <= 2; ++a) peak = std::max(peak, light[static_cast<std::size_t>(a + kAcross)] - sky);
  const double error = options.noise_correlation / std::sqrt(number[kAcross]);  // of one value of the section
  if (peak < 5 * error) return false;
  // Outwards to where it has sunk below a hundredth of its peak (of a Gaussian 0.3 % lie beyond) or into its own error.
  int half = 1, edge = 1;
  const auto height = [&](int a) {
    return std::max(light[static_cast<std::size_t>(kAcross + a)], light[static_cast<std::size_t>(kAcross - a)]) - sky;
  };
  while (half < kAcross && height(half) > peak / 2) ++half;
  const double nothing = std::max(2 * error, 0.01 * peak);
  int quiet = 0;
  for (edge = half; edge < kAcross && quiet < 2; ++edge) quiet = height(edge) < nothing ? quiet + 1 : 0;
  if (half > 1 + 1.5 * options.fwhm_px) return false;
  const double usual = background.median_noise();
  trail.half_width_px = std::max<double>(edge - quiet, 2.2 * half);
  trail.peak = peak * usual;
  trail.snr = peak / error;
  // A trail is lit along its course, a knot of nebula in a few places. One that begins or ends in the frame must be
  // bright.
  int pieces = 0, lit = 0;
  for (int piece = 0; piece < CrossSections::kPieces; ++piece) {
    double sum = 0, count = 0;
    for (int a = -1; a <= 1; ++a) {
      sum += (sections.mean(piece, a) - sky) * sections.count(piece, a);
      count += sections.count(piece, a);
    }
    if (count < 60) continue;
    ++pieces;
    lit += static_cast<int>(sum / count > 0.4 * peak);
  }
  return lit >= 0.7 * pieces || (trail.snr > 50 && lit >= 0.25 * pieces);
}

// Takes a trail out of the bins, so that the next is found. They go on being counted: a line through them is worth a
// little less than it is.
void forget(TrailBins& b, const Trail& t, double half_width) {
  Trail in_bins = t;
  in_bins.distance = -t.across(b.pixel(0), b.pixel(0)) / b.size;
  for (int y = 0; y < b.light.height(); ++y) {
    const Near near = near_line(in_bins, half_width / b.size + 1, y, b.light.width());
    std::int32_t* row = b.light.plane().row(y);
    for (int x = near.begin; x < near.end; ++x) row[x] = math::without_value(row[x]);
  }
}

}  // namespace

Result<std::vector<Trail>> find_trails(View<const float> image, const BackgroundMap& background, const HalfSize& half,
                                       std::span<const Disc> stars, const TrailOptions& options, const Context& ctx) {
  std::vector<Trail> trails;
  if (std::min(image.width, image.height) < 40 * kLeastTrailBin) return trails;
  const Image<std::uint8_t> mask = star_mask(stars, half.width(), half.height());
  NG_TRY(TrailBins bins, trail_bins(half, mask.plane(), ctx));
  math::LineSums sums;
  for (int failures = 0; failures < options.failures && static_cast<int>(trails.size()) < options.most;) {
    const Course course = strongest_line(bins, sums);
    if (course.snr < options.threshold) break;
    Trail trail = trail_through(course);
    const bool found = follow(image, background, mask.plane(), trail) &&
                       measure_section(image, background, mask.plane(), options, trail) &&
                       trail.snr > options.threshold;
    forget(bins, found ? trail : trail_through(course), found ? trail.half_width_px : 2 * bins.size);
    if (found) {
      trails.push_back(trail);
    } else {
      ++failures;
    }
  }
  return trails;
}

}  // namespace ng::measure
