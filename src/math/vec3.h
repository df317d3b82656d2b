// math/vec3.h - directions in space: three numbers and what is done with them. Right-handed axes; angles in radians.
#pragma once

#include <array>
#include <cmath>

#include "base/angle.h"

namespace ng::math {

using Vec3 = std::array<double, 3>;
using Mat3 = std::array<Vec3, 3>;  // rows

[[nodiscard]] inline double dot(const Vec3& a, const Vec3& b) {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}
[[nodiscard]] inline Vec3 cross(const Vec3& a, const Vec3& b) {
  return {a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]};
}
[[nodiscard]] inline double norm(const Vec3& a) {
  return std::sqrt(dot(a, a));
}
[[nodiscard]] inline Vec3 unit(const Vec3& a) {
  const double n = norm(a);
  return {a[0] / n, a[1] / n, a[2] / n};
}
// Angle between two directions, exact for small and for large ones.
[[nodiscard]] inline double separation(const Vec3& a, const Vec3& b) {
  return std::atan2(norm(cross(a, b)), dot(a, b));
}
// Unit vector of a direction given by its longitude (right ascension, azimuth) and latitude (declination, altitude).
[[nodiscard]] inline Vec3 from_angles(double longitude_rad, double latitude_rad) {
  const double c = std::cos(latitude_rad);
  return {c * std::cos(longitude_rad), c * std::sin(longitude_rad), std::sin(latitude_rad)};
}
struct Angles {
  double longitude_rad = 0;  // [0, 2 pi)
  double latitude_rad = 0;
};
[[nodiscard]] inline Angles to_angles(const Vec3& v) {
  const double longitude = std::atan2(v[1], v[0]);
  return {longitude < 0 ? longitude + 2 * kPi : longitude, std::atan2(v[2], std::hypot(v[0], v[1]))};
}

[[nodiscard]] inline Vec3 times(const Mat3& m, const Vec3& v) {
  return {dot(m[0], v), dot(m[1], v), dot(m[2], v)};
}
[[nodiscard]] inline Mat3 transposed(const Mat3& m) {
  return {{{m[0][0], m[1][0], m[2][0]}, {m[0][1], m[1][1], m[2][1]}, {m[0][2], m[1][2], m[2][2]}}};
}
[[nodiscard]] inline Mat3 times(const Mat3& a, const Mat3& b) {
  const Mat3 t = transposed(b);
  return {times(t, a[0]), times(t, a[1]), times(t, a[2])};
}
// Rotation by |w| about w, right-handed (Rodrigues' formula): v -> R v turns the vector in fixed axes.
[[nodiscard]] inline Mat3 rotation(const Vec3& w) {
  const double angle = norm(w);
  // sin(a)/a and (1-cos(a))/a^2, by their series where the quotients lose digits.
  const double s = angle > 1e-6 ? std::sin(angle) / angle : 1 - angle * angle / 6;
  const double h = angle > 1e-6 ? 2 * std::pow(std::sin(angle / 2) / angle, 2) : 0.5 - angle * angle / 24;
  const auto [x, y, z] = w;
  return {{{1 - h * (y * y + z * z), h * x * y - s * z, h * x * z + s * y},
           {h * x * y + s * z, 1 - h * (x * x + z * z), h * y * z - s * x},
           {h * x * z - s * y, h * y * z + s * x, 1 - h * (x * x + y * y)}}};
}

}  // namespace ng::math
