// math/bend.h - how a lens bends a flat picture: a cubic polynomial of the place on the frame.
//
//   p = u + size * (P(U), Q(U)),  U = (u - centre) / size
// u is where a camera without distortion would show a star, p where this one does, both in frame pixels. P and Q are
// full cubics, so that the same form holds a lens (cubic along the radius), a sensor that is not flat, and what is left
// of a map between two frames. The way back is Newton's method: exact to 1e-10 px where the bend is a small part of the
// picture, which fits make sure of.
#pragma once

#include <array>

#include "math/transform.h"

namespace ng::math {

class Bend {
 public:
  static constexpr int kTerms = 10;
  using Terms = std::array<double, kTerms>;

  Bend() = default;
  // Coefficients of terms_at(); `size` in pixels, above 0.
  Bend(Point centre, double size, const Terms& x, const Terms& y) : centre_(centre), size_(size), x_(x), y_(y) {}
  // A lens: p = u + share * (|u - centre| / radius)^2 * (u - centre). Positive: the corners are drawn outwards.
  [[nodiscard]] static Bend radial(Point centre, double radius, double share);

  [[nodiscard]] Point bend(Point u) const;
  [[nodiscard]] Point unbend(Point p) const;
  // Of bend(): the tangent map at u.
  [[nodiscard]] Affine linear_at(Point u) const;

  // The same bend in the pixels q of a coarser grid on the frame: p = step q + first.
  [[nodiscard]] Bend on_subgrid(double step, Point first) const {
    return {{(centre_.x - first.x) / step, (centre_.y - first.y) / step}, size_ / step, x_, y_};
  }

  // 1, X, Y, X^2, XY, Y^2, X^3, X^2 Y, X Y^2, Y^3.
  [[nodiscard]] static Terms terms_at(double x, double y);

  [[nodiscard]] Point centre() const { return centre_; }
  [[nodiscard]] double size() const { return size_; }
  [[nodiscard]] const Terms& x() const { return x_; }
  [[nodiscard]] const Terms& y() const { return y_; }

  friend bool operator==(const Bend&, const Bend&) = default;

 private:
  Point centre_;
  double size_ = 1;
  Terms x_{}, y_{};
};

}  // namespace ng::math
