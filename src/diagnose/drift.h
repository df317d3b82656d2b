// diagnose/drift.h - what a polar axis that is off does to a star on the chip, and the axis from what it did.
//
// The drift method: a mount with its axis off by (e), following at the sidereal rate, lets a star go north or south by
// the part of e that lies a quarter of a turn from it in hour angle. So a star near the meridian shows an error in
// azimuth, one six hours from it an error in altitude, and two stars some hours apart show both. Only the motion in
// declination is used: that in right ascension also holds the errors of the worm and of the rate. Signs and sizes are
// checked against an exact rotation in the tests (Hook 1989, JBAA 99, 19 gives the same in its small-angle form).
#pragma once

#include <optional>
#include <span>

#include "diagnose/pole.h"
#include "sky/moment.h"

namespace ng::diagnose {

// Drift of a star on the chip while a mount with that axis follows it at the sidereal rate without guiding, and the
// turn of the field: the star's seen path against the rotation, exactly, refraction included.
struct Drift {
  double north_rad = 0, east_rad = 0;  // of the star against the chip, over the whole time
  double rotation_rad = 0;             // of the field around the star, positive from north through east
};
[[nodiscard]] Result<Drift> drift_of(const math::Vec3& axis, sky::Direction target_icrs, Instant begin, double seconds,
                                     const sky::Site& site, const sky::Air& air);

// A star's drift as it was seen while the mount followed it, with no correction in declination.
struct SeenDrift {
  sky::Direction star_icrs;
  Instant begin;
  double seconds = 0;
  double north_rad = 0;        // of the star against the chip, over the whole time
  double north_error_rad = 0;  // one standard deviation
};

// What one drift alone says: the hour angle in its middle, (-pi, pi], and how far the axis would be off if only its
// azimuth or only its altitude were wrong. Nothing where a whole degree of that would not have shown in this direction
// (less than a twentieth of the largest drift).
struct OneDrift {
  double hour_angle_rad = 0;
  double largest_rad = 0;                           // on the sky, the least error of the axis that explains it
  std::optional<double> azimuth_rad, altitude_rad;  // where the axis points minus the pole as seen, bolts' own scales
};
[[nodiscard]] Result<OneDrift> one_drift(const SeenDrift& seen, const sky::Site& site, const sky::Air& air);

// The axis from two drifts or more, by least squares on the exact paths, refraction included; `largest_turn_rad` is the
// largest difference of hour angle that counts (a quarter of a turn at most), `misfit` as in pole.h. Errors: kTooFew
// (fewer than two, or none 20 degrees of hour angle from another, counted modulo half a turn).
[[nodiscard]] Result<PolarAxis> polar_axis_of_drifts(std::span<const SeenDrift> drifts, const sky::Site& site,
                                                     const sky::Air& air);

}  // namespace ng::diagnose
