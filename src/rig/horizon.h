// rig/horizon.h - what hides the sky: trees, roofs, hills around a site.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"

namespace ng::rig {

struct HorizonPoint {
  double azimuth_deg = 0;   // from north through east, [0, 360)
  double altitude_deg = 0;  // below which nothing is seen
};

// Straight lines between points, around the circle; without points the sky is open down to 0 degrees.
struct Horizon {
  std::vector<HorizonPoint> points;  // by rising azimuth

  // kInvalidInput: an azimuth or altitude out of range, or azimuths that do not rise.
  [[nodiscard]] Result<void> validate() const;
  [[nodiscard]] double altitude_deg(double azimuth_deg) const;
  // Stretches without a point that are wider than `degrees`, as sentences: straight lines across them may be wrong.
  [[nodiscard]] std::vector<std::string> gaps(double degrees) const;
};

}  // namespace ng::rig
