#include "rig/tracking.h"

#include <cmath>

#include "base/angle.h"

namespace ng::rig {
namespace {

constexpr double kSiderealRadS = 7.292115e-5;  // IERS Conventions 2010, nominal

}  // namespace

double polar_drift_arcsec_s(double polar_error_arcmin) {
  return kSiderealRadS * polar_error_arcmin * 60;
}

double field_rotation_trail_um(double polar_error_arcmin, double dec_rad, double seconds, double focal_length_mm,
                               double from_star_deg) {
  const double turned_rad = kSiderealRadS * seconds * deg_to_rad(polar_error_arcmin / 60) / std::cos(dec_rad);
  return turned_rad * focal_length_mm * 1e3 * deg_to_rad(from_star_deg);
}

double periodic_rate_arcsec_s(double peak_to_peak_arcsec, double period_s) {
  return kPi * peak_to_peak_arcsec / period_s;
}

}  // namespace ng::rig
