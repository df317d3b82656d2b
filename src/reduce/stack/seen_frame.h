// reduce/stack/seen_frame.h - a frame as one tile of a proper coaddition sees it.
#pragma once

#include "frame/field_profile.h"
#include "math/plane_map.h"
#include "reduce/stack/integrate.h"
#include "reduce/stack/light_on_master.h"
#include "reduce/stack/proper_tile.h"

namespace ng::reduce {

// What the way onto the master's grid does to a frame.
struct Grids {
  GridResponse between = GridResponse::lanczos();  // its pixels' places fall between the grid's, anywhere
  GridResponse on_grid = GridResponse::plain();    // they fall on them: the reference frame

  [[nodiscard]] const GridResponse& of(const math::PlaneMap& to_master) const;
};

// Profile, noise and map are those of a place of the master, the middle of the tile.
[[nodiscard]] TileFrame seen(const StackFrame& frame, const FieldProfile& profile, const ProfileTransform& transform,
                             const Grids& grids, const VarianceMeshes& variances, int plane, math::Point on_master);

// The share of a part of the master that a frame sees; never quite nothing.
[[nodiscard]] double share_seen(const StackFrame& frame, const Region& part);

}  // namespace ng::reduce
