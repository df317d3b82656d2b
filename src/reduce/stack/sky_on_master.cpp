#include "reduce/stack/sky_on_master.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "reduce/stack/mesh_on_master.h"

namespace ng::reduce {

Image<float> sky_on_master(std::span<const SkyPart> parts, int master_width, int master_height) {
  Image<float> mesh((master_width + kMasterBoxPx - 1) / kMasterBoxPx,
                    (master_height + kMasterBoxPx - 1) / kMasterBoxPx);
  std::vector<math::PlaneMap> to_frame;
  for (const SkyPart& part : parts) to_frame.push_back(part.frame.to_master.inverse());
  for (int j = 0; j < mesh.height(); ++j) {
    for (int i = 0; i < mesh.width(); ++i) {
      const math::Point at{(i + 0.5) * kMasterBoxPx - 0.5, (j + 0.5) * kMasterBoxPx - 0.5};
      double sum = 0, away = std::numeric_limits<double>::infinity();
      int seen = 0;
      for (std::size_t k = 0; k < parts.size(); ++k) {
        const BackgroundMap& map = parts[k].frame.map;
        const math::Point p = to_frame[k].apply(at);
        const math::Point q{std::clamp(p.x, 0.0, map.width - 1.0), std::clamp(p.y, 0.0, map.height - 1.0)};
        const double level = parts[k].frame.factor * map.level_at(q.x, q.y) - parts[k].minus.at(at.x, at.y);
        const double d = std::hypot(p.x - q.x, p.y - q.y);
        if (d == 0) {
          sum = seen == 0 ? level : sum + level;
          ++seen;
        } else if (seen == 0 && d < away) {
          sum = level;
          away = d;
        }
      }
      mesh.plane()(i, j) = static_cast<float>(seen > 0 ? sum / seen : sum);
    }
  }
  return mesh;
}

}  // namespace ng::reduce
