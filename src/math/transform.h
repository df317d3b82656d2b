// math/transform.h - affine maps of the plane: frame pixels to master pixels and back.
//
// X = a x + b y + c,  Y = d x + e y + f, both sides in 0-based pixel coordinates (centre of the first pixel is (0, 0)).
#pragma once

#include <cmath>

namespace ng::math {

struct Point {
  double x = 0;
  double y = 0;
  friend bool operator==(const Point&, const Point&) = default;
};

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
  // this after other: x -> this(other(x)).
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

}  // namespace ng::math
