// diagnose/pole.h - where a mount's polar axis points, from frames between which only that axis was turned.
//
// Whatever the mount did between two frames - turned by hand, tracked, stood still - it turned about its one axis; so
// the rotation that carries one attitude of the camera (attitude.h) into the other, both against the ground, has that
// axis. Roll counts like direction, which is why 20 degrees of turning are enough (a circle through three centres needs
// far more). All frames are fitted together: attitude_i = R(axis, angle_i) attitude_0, weights from the solutions' own
// errors. Derived here; checked by tests/reference/pole_check.py against astropy and by rehearsed mounts.
//
// The pole: of the true one the altitude is the latitude; what the camera sees of it is lifted by refraction.
#pragma once

#include <span>
#include <vector>

#include "diagnose/attitude.h"

namespace ng::diagnose {

struct PolarAxis {
  math::Vec3 direction{};  // ground axes, towards the pole above the horizon
  double azimuth_rad = 0, altitude_rad = 0;
  double azimuth_error_rad = 0;  // of the azimuth itself, one standard deviation
  double altitude_error_rad = 0;
  double largest_turn_rad = 0;  // between any two frames
  // Root mean square of what the fit leaves, in units of the solutions' errors: about 1; 0 for two frames, which always
  // fit. Far above 1: something else moved (the other axis, the tripod, a mirror), or a time is wrong.
  double misfit = 0;
};

// Errors: kTooFew (fewer than two frames, or none turned by 5 degrees or more against another).
[[nodiscard]] Result<PolarAxis> polar_axis(std::span<const Attitude> attitudes, double latitude_rad);

// The axis after its bolts were turned, from one more frame: the camera has since been turned about the vertical (by
// the azimuth bolts), about the level axis across (by the altitude bolt), and by any angle about the polar axis itself
// (by tracking); three unknowns from three angles. Errors: kNoMatch (not such a motion: more than 20 degrees by the
// bolts).
[[nodiscard]] Result<PolarAxis> polar_axis_after_bolts(const PolarAxis& before, const Attitude& last,
                                                       const Attitude& now);

// Where the axis should point: the pole above the horizon, as it is and as it is seen.
struct Pole {
  AzimuthAltitude true_pole, seen_pole;
};
[[nodiscard]] Pole pole_of(const sky::Site& site, const sky::Air& air);

// What is to be done: by how much the axis must move. On the bolts' own scales: azimuth is the turn of the base, which
// moves the axis by cos(altitude) of it on the sky.
struct Correction {
  double azimuth_rad = 0;   // east positive (through east from north; from south through east too)
  double altitude_rad = 0;  // up positive
  double distance_rad = 0;  // on the sky
};
[[nodiscard]] Correction correction(const PolarAxis& axis, const AzimuthAltitude& goal);

// Largest distance of axis and pole that leaves half a pixel, at the worst hour angle (Hook 1989, JBAA 99, 19, in this
// form): while guiding on a star in the middle, by the turn of the field at the corner; without guiding, by drift.
struct Tolerance {
  double guided_rad = 0;
  double unguided_rad = 0;
};
[[nodiscard]] Tolerance tolerance(double scale_rad_px, double half_diagonal_px, double dec_rad, double exposure_s);

}  // namespace ng::diagnose
