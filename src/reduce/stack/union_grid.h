// reduce/stack/union_grid.h - one grid for all that a set of frames shows.
#pragma once

#include <optional>
#include <span>

#include "math/plane_map.h"

namespace ng::reduce {

struct FrameOnGrid {
  int width = 0, height = 0;
  math::PlaneMap to_grid;
};

// The smallest whole-pixel rectangle that holds every frame: its corner is at (x0, y0) of the grid.
struct GridBox {
  int x0 = 0, y0 = 0;
  int width = 0, height = 0;
};

// Nothing where a side would exceed 60000 pixels.
[[nodiscard]] std::optional<GridBox> union_of(std::span<const FrameOnGrid> frames);

// Share of a frame's area that lies within another, both on one grid.
[[nodiscard]] double overlap_share(const FrameOnGrid& frame, const FrameOnGrid& other);

}  // namespace ng::reduce
