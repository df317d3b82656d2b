// finish/sky_surface.h - a polynomial of two variables over the field: the sky's brightness, and nothing else.
//
// Value = sum of c_ij u^i v^j for i + j <= degree, with u = (x - xc) / s and v = (y - yc) / s, centre of the image and
// half its longer side: u and v stay within -1..1. Coefficients stand in the order 1, u, v, u^2, uv, v^2, u^3, ...
#pragma once

#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"

namespace ng::finish {

inline constexpr int kMaxSkyDegree = 4;

[[nodiscard]] constexpr int sky_terms(int degree) {
  return (degree + 1) * (degree + 2) / 2;
}

struct SkySurface {
  int width = 0;
  int height = 0;
  int degree = 0;
  std::vector<double> coefficients;  // sky_terms(degree) of them, in units of the image

  // The terms' own values at a place, for fits.
  [[nodiscard]] static std::vector<double> terms_at(double x, double y, int width, int height, int degree);
  [[nodiscard]] double at(double x, double y) const;
};

// Errors: kCancelled.
[[nodiscard]] Result<void> subtract_surface(View<float> image, const SkySurface& surface, const Context& ctx);

}  // namespace ng::finish
