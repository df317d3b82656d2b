#include "measure/aperture.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/circle_overlap.h"
#include "math/robust.h"

namespace ng::measure {

double ccd_noise_e(const CcdNoise& t) {
  const double rounding = t.gain_e_adu * t.rounding_adu;
  const double estimate = t.sky_pixels > 0 ? 1 + t.pixels / t.sky_pixels : 1;
  return std::sqrt(t.star_e +
                   t.pixels * estimate * (t.sky_e + t.dark_e + t.read_noise_e * t.read_noise_e + rounding * rounding));
}

ApertureSize ApertureSize::for_fwhm(double fwhm_px) {
  const double radius = std::max(3.0, 2 * fwhm_px), inner = std::max(6.0, 4 * fwhm_px);
  return {radius, inner, std::max(inner + 5, 6 * fwhm_px)};
}

Aperture measure_aperture(View<const float> image, math::Point centre, const ApertureSize& size,
                          double electrons_per_unit) {
  Aperture a;
  const int reach = static_cast<int>(std::ceil(size.ring_outer_px)) + 1;
  const int cx = static_cast<int>(std::lround(centre.x)), cy = static_cast<int>(std::lround(centre.y));
  std::vector<float> ring;
  double sum = 0;
  a.cut = cx - reach < 0 || cy - reach < 0 || cx + reach >= image.width || cy + reach >= image.height;
  for (int y = std::max(0, cy - reach); y <= std::min(image.height - 1, cy + reach); ++y)
    for (int x = std::max(0, cx - reach); x <= std::min(image.width - 1, cx + reach); ++x) {
      const double dx = x - centre.x, dy = y - centre.y, r = std::hypot(dx, dy);
      const float value = image(x, y);
      if (r >= size.ring_inner_px && r <= size.ring_outer_px && std::isfinite(value)) ring.push_back(value);
      const double share = r > size.radius_px + 1 ? 0 : math::circle_pixel_overlap(dx, dy, size.radius_px);
      if (share <= 0) continue;
      if (!std::isfinite(value)) {
        a.cut = true;
        continue;
      }
      sum += share * value;
      a.area_px += share;
      a.peak = std::max(a.peak, static_cast<double>(value));
    }
  if (ring.size() < 10) {
    a.cut = true;
    return a;
  }
  const auto ring_pixels = static_cast<double>(ring.size());
  const math::SkyLevel sky = math::sky_level(ring);
  a.sky = sky.level;
  a.sky_noise = sky.sigma;
  a.flux = sum - a.area_px * a.sky;
  // In image units: the bracket is the ring's variance, the star's photons follow from the electrons per unit.
  const double photons = electrons_per_unit > 0 ? std::max(0.0, a.flux) / electrons_per_unit : 0;
  a.error = std::sqrt(photons + a.area_px * (1 + a.area_px / ring_pixels) * a.sky_noise * a.sky_noise);
  return a;
}

}  // namespace ng::measure
