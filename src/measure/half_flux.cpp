#include "measure/half_flux.h"

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "math/circle_overlap.h"

namespace ng::measure {
namespace {

constexpr double kHalfDiagonal = 0.70710678118654757;  // of a pixel: nearest and farthest corner

struct Enclosed {
  double flux = 0;
  double rim = 0;  // mean value of the pixels that the circle cuts
};

Enclosed enclosed_by(View<const float> image, double x, double y, double background, double radius) {
  const double outer = radius + kHalfDiagonal;
  const double inner = std::max(0.0, radius - kHalfDiagonal);
  const int x0 = std::max(0, static_cast<int>(std::ceil(x - outer)));
  const int x1 = std::min(image.width - 1, static_cast<int>(std::floor(x + outer)));
  const int y0 = std::max(0, static_cast<int>(std::ceil(y - outer)));
  const int y1 = std::min(image.height - 1, static_cast<int>(std::floor(y + outer)));
  Enclosed result;
  double cut_area = 0, cut_flux = 0;
  for (int py = y0; py <= y1; ++py) {
    const float* row = image.row(py);
    const double dy = py - y;
    for (int px = x0; px <= x1; ++px) {
      const double dx = px - x;
      const double square = dx * dx + dy * dy;
      if (square >= outer * outer) continue;
      const double value = row[px] - background;
      if (std::isnan(value)) continue;
      if (square <= inner * inner) {
        result.flux += value;
        continue;
      }
      const double share = math::circle_pixel_overlap(dx, dy, radius);
      result.flux += share * value;
      const double cut = share * (1 - share);  // those cut through the middle tell most of the rim
      cut_area += cut;
      cut_flux += cut * value;
    }
  }
  if (cut_area > 0) result.rim = cut_flux / cut_area;
  return result;
}

}  // namespace

// Newton's method: the flux within grows with the radius by the circumference times the light of the rim. Once the
// answer lies between two radii, a step that leaves them is cut to their middle.
double half_flux_radius(View<const float> image, double x, double y, double background, double total, double guess,
                        double max_radius) {
  double low = 0, high = max_radius;
  bool passed = false;  // half has been seen within `high`
  double radius = std::min(guess, max_radius);
  for (int k = 0; k < 40; ++k) {
    const Enclosed now = enclosed_by(image, x, y, background, radius);
    const double excess = now.flux - total / 2;
    if (std::fabs(excess) < 3e-5 * total) return radius;
    if (excess < 0) {
      if (radius >= max_radius) return 0;
      low = radius;
    } else {
      high = radius;
      passed = true;
    }
    if (high - low < 1e-4) return passed ? 0.5 * (low + high) : 0;
    const double step = -excess / (2 * kPi * radius * now.rim);
    double next = radius + step;
    if (!(now.rim > 0) || next <= low || next >= high)
      next = passed ? 0.5 * (low + high) : std::min(1.5 * radius, max_radius);
    radius = next;
  }
  return radius;
}

}  // namespace ng::measure
