// rig/tracking.h - how far a star moves on the sensor when the mount is not perfect.
#pragma once

namespace ng::rig {

// Fastest drift in declination of a polar axis that stands `error` away from the pole: the Earth's rate, 15.04107
// arcsec/s, times the error (first order): 0.2625 arcsec/min per arcmin.
[[nodiscard]] double polar_drift_arcsec_s(double polar_error_arcmin);
// The field turns as well: trail in micrometres, `from_star_deg` away from the guide star, while that one stands still.
// Hook 1989, JBAA 99, 19: E = 45000 S cos d / (T F A); derived, the constant is 45018.57.
[[nodiscard]] double field_rotation_trail_um(double polar_error_arcmin, double dec_rad, double seconds,
                                             double focal_length_mm, double from_star_deg);
// Fastest motion of a sine of that height from peak to peak: pi x height / period.
[[nodiscard]] double periodic_rate_arcsec_s(double peak_to_peak_arcsec, double period_s);

}  // namespace ng::rig
