// math/plane_map.h - maps between pictures of one sky whose cameras may bend it: frame pixels to master pixels and
// back.
//
// A homography between flat pictures (transform.h) with, on either side, the bend of the picture on that side (bend.h):
//   apply(p) = bend_to( h( unbend_from(p) ) )
// Maps that share a picture compose, for its bend then cancels. Without bends it is the homography, to the bit.
#pragma once

#include <memory>

#include "math/bend.h"
#include "math/transform.h"

namespace ng::math {

class PlaneMap {
 public:
  PlaneMap() = default;
  PlaneMap(const Homography& plane) : plane_(plane) {}  // NOLINT(google-explicit-constructor): the usual case
  PlaneMap(const Affine& plane) : plane_(plane) {}      // NOLINT(google-explicit-constructor)
  // `from`: of the picture whose pixels go in; `to`: of the one whose pixels come out. Null: that picture is flat.
  PlaneMap(std::shared_ptr<const Bend> from, const Homography& plane, std::shared_ptr<const Bend> to)
      : from_(std::move(from)), plane_(plane), to_(std::move(to)) {}

  [[nodiscard]] Point apply(Point p) const {
    if (from_) p = from_->unbend(p);
    p = plane_.apply(p);
    return to_ ? to_->bend(p) : p;
  }
  // The tangent (best affine) map at a point.
  [[nodiscard]] Affine linear_at(Point p) const;
  [[nodiscard]] PlaneMap inverse() const { return {to_, plane_.inverse(), from_}; }
  // this after other: p -> this(other(p)). The picture between them must be the same in both: flat, or bent alike.
  [[nodiscard]] PlaneMap after(const PlaneMap& other) const;

  // From the pixels q of a coarser grid on the first picture, p = step q + first.
  [[nodiscard]] PlaneMap on_subgrid(double step, Point first) const;

  [[nodiscard]] bool bent() const { return from_ || to_; }
  [[nodiscard]] const Homography& plane() const { return plane_; }
  [[nodiscard]] const std::shared_ptr<const Bend>& from() const { return from_; }
  [[nodiscard]] const std::shared_ptr<const Bend>& to() const { return to_; }

 private:
  std::shared_ptr<const Bend> from_;
  Homography plane_;
  std::shared_ptr<const Bend> to_;
};

}  // namespace ng::math
