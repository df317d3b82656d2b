#include "reduce/stack/mesh_on_master.h"

#include <algorithm>

#include "frame/background_map.h"

namespace ng::reduce {

Image<float> mesh_on_master(const FrameMesh& mesh, const math::PlaneMap& to_master, int master_width, int master_height,
                            double factor) {
  const math::PlaneMap to_frame = to_master.inverse();
  Image<float> result((master_width + kMasterBoxPx - 1) / kMasterBoxPx,
                      (master_height + kMasterBoxPx - 1) / kMasterBoxPx);
  for (int j = 0; j < result.height(); ++j) {
    for (int i = 0; i < result.width(); ++i) {
      const math::Point p = to_frame.apply({(i + 0.5) * kMasterBoxPx - 0.5, (j + 0.5) * kMasterBoxPx - 0.5});
      const double x = std::clamp(p.x, 0.0, mesh.width - 1.0);
      const double y = std::clamp(p.y, 0.0, mesh.height - 1.0);
      result.plane()(i, j) = static_cast<float>(factor * mesh_between(mesh.values, mesh.box_px, x, y));
    }
  }
  return result;
}

}  // namespace ng::reduce
