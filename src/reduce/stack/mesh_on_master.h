// reduce/stack/mesh_on_master.h - a variance known of a frame box by box, brought onto the master's grid.
#pragma once

#include "base/image.h"
#include "math/plane_map.h"

namespace ng::reduce {

inline constexpr int kMasterBoxPx = 64;

struct FrameMesh {
  const Image<float>& values;  // one per box of the frame
  int box_px = 64;
  int width = 0, height = 0;  // of the frame
};

// Values at the centres of the master's boxes, times `factor`; where the frame does not reach, its nearest border's.
// Positive where all boxes are. For mesh_row_between() of frame/background_map.h with kMasterBoxPx.
[[nodiscard]] Image<float> mesh_on_master(const FrameMesh& mesh, const math::PlaneMap& to_master, int master_width,
                                          int master_height, double factor);

}  // namespace ng::reduce
