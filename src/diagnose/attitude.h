// diagnose/attitude.h - how a camera stands on the ground: its attitude against the horizon, from a solved frame and
// the time.
//
// Ground axes: x south, y east, z up (right-handed). The directions around the middle of the frame are carried from
// ICRS to the horizon with precession, nutation, aberration and refraction (sky/moment.h), and the rotation that fits
// them best is taken (Wahba's problem by singular values, Markley 1988, J. Astronaut. Sci. 36, 245): the camera points
// where the light comes from, so refraction belongs in.
#pragma once

#include "base/result.h"
#include "frame/wcs.h"
#include "math/vec3.h"
#include "sky/moment.h"

namespace ng::diagnose {

// Uncertainty of a solution, one standard deviation.
struct SolutionErrors {
  double centre_rad = 0;  // each of two axes
  double roll_rad = 0;
};

struct Attitude {
  math::Mat3 to_ground{};  // columns: the camera's x, y and outward axes in ground axes
  SolutionErrors errors;
};

// `middle`: the pixel of the frame's middle, where the solution's distortion begins.
[[nodiscard]] Attitude attitude_of(const Wcs& wcs, math::Point middle, const SolutionErrors& errors,
                                   const sky::Moment& moment, const sky::Air& air);

[[nodiscard]] math::Vec3 ground_vector(double azimuth_rad, double altitude_rad);
struct AzimuthAltitude {
  double azimuth_rad = 0;  // from north through east, [0, 2 pi)
  double altitude_rad = 0;
};
[[nodiscard]] AzimuthAltitude azimuth_altitude(const math::Vec3& ground);

}  // namespace ng::diagnose
