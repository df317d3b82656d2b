// reduce/stack/normalise.h - brings one frame onto the scale and sky of another.
//
// Scale: the transmission of the frame relative to the reference, a robust mean of the flux ratios of common stars.
// Sky: the difference of the two background maps, frame / scale - reference, as a quadratic surface in master pixels.
// Both maps contain the same nebula, so it cancels: only the difference of the skies is fitted, nothing of the object
// is eaten.
#pragma once

#include <array>

#include "base/result.h"
#include "frame/background_map.h"
#include "frame/star_list.h"
#include "math/plane_map.h"

namespace ng::reduce {

// c0 + c1 u + c2 v + c3 u^2 + c4 u v + c5 v^2 with u = (x - x0) / size, v = (y - y0) / size.
struct SkySurface {
  std::array<double, 6> c{};
  double x0 = 0, y0 = 0, size = 1;

  [[nodiscard]] double at(double x, double y) const {
    const double u = (x - x0) / size;
    const double v = (y - y0) / size;
    return c[0] + c[1] * u + c[2] * v + c[3] * u * u + c[4] * u * v + c[5] * v * v;
  }
};

struct FluxScale {
  double value = 1;  // flux in the frame / flux in the reference, of the same star
  double error = 0;
  int stars = 0;  // 0: no common stars, the value is a mere 1
};

// `map` takes frame pixels to reference pixels.
[[nodiscard]] FluxScale flux_scale(const StarList& frame, const StarList& reference, const math::PlaneMap& map);

// A background map and how it comes to the master: pixels through `to_master`, levels times `factor`.
struct SkyOnMaster {
  const BackgroundMap& map;
  double factor = 1;  // area of a master pixel in frame pixels / flux scale
  const math::PlaneMap& to_master;
};

// Difference of the skies where both lie, frame - reference, per master pixel, as a surface in master pixels.
[[nodiscard]] SkySurface sky_difference(const SkyOnMaster& frame, const SkyOnMaster& reference);

}  // namespace ng::reduce
