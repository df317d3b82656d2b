#include "math/plane_map.h"

#include <cassert>

namespace ng::math {

Affine PlaneMap::linear_at(Point p) const {
  const Point u = from_ ? from_->unbend(p) : p;
  Affine t = plane_.linear_at(u);
  if (to_) t = to_->linear_at(plane_.apply(u)).after(t);
  return from_ ? t.after(from_->linear_at(u).inverse()) : t;
}

PlaneMap PlaneMap::after(const PlaneMap& other) const {
  assert((!from_ && !other.to_) || (from_ && other.to_ && *from_ == *other.to_));
  return {other.from_, plane_.after(other.plane_), to_};
}

PlaneMap PlaneMap::on_subgrid(double step, Point first) const {
  return {from_ ? std::make_shared<const Bend>(from_->on_subgrid(step, first)) : nullptr,
          plane_.after(Homography(Affine{step, 0, first.x, 0, step, first.y})), to_};
}

}  // namespace ng::math
