// math/bend_fit.h - the bend that carries flat places to those that were seen, by weighted least squares.
#pragma once

#include <optional>
#include <span>

#include "math/bend.h"
#include "math/plane_map.h"

namespace ng::math {

// A place on the flat picture and where it was seen, in frame pixels.
struct BentPlace {
  Point flat, seen;
  double weight = 1;
};

// All ten terms of each axis about `centre`, `size` bringing the places near 1. Nothing where the places cannot tell
// the terms apart (fewer than ten, or along a curve).
[[nodiscard]] std::optional<Bend> fit_bend(std::span<const BentPlace> places, Point centre, double size);

// outer(inner(p)) as one map whose own picture alone is bent, for a picture of that size. Exact where the picture
// between them is flat or bent alike in both and the last one flat; elsewhere a cubic fitted on a grid, which misses
// the product of the two bends' slopes: 1e-3 px where a lens of 0.5 % meets the remainder between two frames of it.
// Falls back on the flat part where no bend can be fitted.
[[nodiscard]] PlaneMap composed(const PlaneMap& outer, const PlaneMap& inner, int width, int height);

}  // namespace ng::math
