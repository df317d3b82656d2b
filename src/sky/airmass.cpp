#include "sky/airmass.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/angle.h"

namespace ng::sky {

double kasten_young(double altitude_rad) {
  return 1 / (std::sin(altitude_rad) + 0.50572 * std::pow(rad_to_deg(altitude_rad) + 6.07995, -1.6364));
}

double airmass(double altitude_rad) {
  if (altitude_rad < 0) return std::numeric_limits<double>::infinity();
  return std::max(1.0, kasten_young(altitude_rad));
}

}  // namespace ng::sky
