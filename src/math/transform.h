// math/transform.h - maps of the plane: frame pixels to master pixels and back.
//
// Both sides in 0-based pixel coordinates: (0, 0) is the centre of the first pixel. The general map is projective
// (a homography): two gnomonic pictures of one sky taken in different directions differ by exactly that, and shifts,
// rotations, mirrorings and affine maps are its special cases.
#pragma once

#include <array>
#include <cmath>

namespace ng::math {

struct Point {
  double x = 0;
  double y = 0;
  friend bool operator==(const Point&, const Point&) = default;
};

// X = a x + b y + c,  Y = d x + e y + f.
struct Affine {
  double a = 1, b = 0, c = 0;
  double d = 0, e = 1, f = 0;

  [[nodiscard]] Point apply(Point p) const { return {a * p.x + b * p.y + c, d * p.x + e * p.y + f}; }
  [[nodiscard]] double determinant() const { return a * e - b * d; }
  // Linear size of an input pixel on the output grid.
  [[nodiscard]] double scale() const { return std::sqrt(std::fabs(determinant())); }
  // Rotation of the x axis in radians, counted from x towards y.
  [[nodiscard]] double rotation() const { return std::atan2(d, a); }

  // Undefined (infinite coefficients) for a degenerate map; fits never return one.
  [[nodiscard]] Affine inverse() const {
    const double k = 1 / determinant();
    return {e * k, -b * k, (b * f - e * c) * k, -d * k, a * k, (d * c - a * f) * k};
  }
  // this after other: p -> this(other(p)).
  [[nodiscard]] Affine after(const Affine& o) const {
    return {a * o.a + b * o.d, a * o.b + b * o.e, a * o.c + b * o.f + c,
            d * o.a + e * o.d, d * o.b + e * o.e, d * o.c + e * o.f + f};
  }

  [[nodiscard]] static Affine similarity(double scale, double angle, double shift_x, double shift_y) {
    const double co = scale * std::cos(angle);
    const double si = scale * std::sin(angle);
    return {co, -si, shift_x, si, co, shift_y};
  }
  friend bool operator==(const Affine&, const Affine&) = default;
};

// X = (m0 x + m1 y + m2) / w,  Y = (m3 x + m4 y + m5) / w,  w = m6 x + m7 y + 1.
class Homography {
 public:
  Homography() = default;
  explicit Homography(const Affine& t) : m_{t.a, t.b, t.c, t.d, t.e, t.f, 0, 0} {}
  explicit Homography(const std::array<double, 8>& m) : m_(m) {}

  [[nodiscard]] Point apply(Point p) const {
    const double w = 1 / (m_[6] * p.x + m_[7] * p.y + 1);
    return {(m_[0] * p.x + m_[1] * p.y + m_[2]) * w, (m_[3] * p.x + m_[4] * p.y + m_[5]) * w};
  }
  // The tangent (best affine) map at a point.
  [[nodiscard]] Affine linear_at(Point p) const;
  // Undefined (infinite coefficients) for a degenerate map; fits never return one.
  [[nodiscard]] Homography inverse() const;
  // this after other: p -> this(other(p)).
  [[nodiscard]] Homography after(const Homography& other) const;
  [[nodiscard]] bool is_affine() const { return m_[6] == 0 && m_[7] == 0; }
  [[nodiscard]] const std::array<double, 8>& coefficients() const { return m_; }

  friend bool operator==(const Homography&, const Homography&) = default;

 private:
  std::array<double, 8> m_{1, 0, 0, 0, 1, 0, 0, 0};
};

}  // namespace ng::math
