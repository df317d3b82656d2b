#include "finish/sky_surface.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "base/parallel.h"

namespace ng::finish {
namespace {

struct Scaled {
  double u, v;
};
Scaled scaled(double x, double y, int width, int height) {
  const double s = 0.5 * std::max(1, std::max(width, height) - 1);
  return {(x - 0.5 * (width - 1)) / s, (y - 0.5 * (height - 1)) / s};
}

}  // namespace

std::vector<double> SkySurface::terms_at(double x, double y, int width, int height, int degree) {
  const auto [u, v] = scaled(x, y, width, height);
  std::vector<double> terms;
  for (int total = 0; total <= degree; ++total)
    for (int j = 0; j <= total; ++j) terms.push_back(std::pow(u, total - j) * std::pow(v, j));
  return terms;
}

double SkySurface::at(double x, double y) const {
  const std::vector<double> terms = terms_at(x, y, width, height, degree);
  double sum = 0;
  for (std::size_t i = 0; i < terms.size(); ++i) sum += coefficients[i] * terms[i];
  return sum;
}

Result<void> subtract_surface(View<float> image, const SkySurface& surface, const Context& ctx) {
  assert(image.width == surface.width && image.height == surface.height);
  return parallel_for(ctx, image.height, [&](int y) {
    // Along a row the surface is a polynomial in u alone.
    std::vector<double> in_u(static_cast<std::size_t>(surface.degree) + 1, 0.0);
    const double v = scaled(0, y, image.width, image.height).v;
    std::size_t at = 0;
    for (int total = 0; total <= surface.degree; ++total)
      for (int j = 0; j <= total; ++j)
        in_u[static_cast<std::size_t>(total - j)] += surface.coefficients[at++] * std::pow(v, j);
    float* row = image.row(y);
    for (int x = 0; x < image.width; ++x) {
      const double u = scaled(x, y, image.width, image.height).u;
      double value = 0;
      for (std::size_t i = in_u.size(); i-- > 0;) value = value * u + in_u[i];
      row[x] -= static_cast<float>(value);
    }
  });
}

}  // namespace ng::finish
