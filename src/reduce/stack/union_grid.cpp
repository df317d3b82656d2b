#include "reduce/stack/union_grid.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace ng::reduce {

std::optional<GridBox> union_of(std::span<const FrameOnGrid> frames) {
  constexpr double kLargest = 60000;
  double x0 = std::numeric_limits<double>::infinity(), y0 = x0, x1 = -x0, y1 = -x0;
  for (const FrameOnGrid& f : frames) {
    const int steps = f.to_grid.bent() ? 16 : 1;  // straight sides end in the corners; bent ones bow
    for (int j = 0; j <= steps; ++j) {
      for (int i = 0; i <= steps; ++i) {
        const math::Point p = f.to_grid.apply({(f.width - 1.0) * i / steps, (f.height - 1.0) * j / steps});
        x0 = std::min(x0, std::floor(p.x));
        y0 = std::min(y0, std::floor(p.y));
        x1 = std::max(x1, std::ceil(p.x));
        y1 = std::max(y1, std::ceil(p.y));
      }
    }
  }
  if (!(x1 - x0 < kLargest && y1 - y0 < kLargest)) return std::nullopt;
  return GridBox{static_cast<int>(x0), static_cast<int>(y0), static_cast<int>(x1 - x0) + 1,
                 static_cast<int>(y1 - y0) + 1};
}

double overlap_share(const FrameOnGrid& frame, const FrameOnGrid& other) {
  constexpr int kSteps = 24;
  const math::PlaneMap map = other.to_grid.inverse().after(frame.to_grid);
  int inside = 0;
  for (int j = 0; j < kSteps; ++j) {
    for (int i = 0; i < kSteps; ++i) {
      const math::Point p = map.apply({(i + 0.5) / kSteps * frame.width, (j + 0.5) / kSteps * frame.height});
      inside += p.x >= 0 && p.y >= 0 && p.x <= other.width - 1 && p.y <= other.height - 1 ? 1 : 0;
    }
  }
  return static_cast<double>(inside) / (kSteps * kSteps);
}

}  // namespace ng::reduce
