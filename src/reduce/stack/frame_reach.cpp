#include "reduce/stack/frame_reach.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace ng::reduce {

Region reach_on_master(const StackFrame& frame, int width, int height) {
  const FrameFacts& facts = frame.source->facts();
  // Straight sides end in the corners; bent ones bow between the places looked at by less than a pixel.
  const int steps = frame.to_master.bent() ? 32 : 1;
  double x0 = std::numeric_limits<double>::infinity(), y0 = x0, x1 = -x0, y1 = -x0;
  const auto hold = [&](double x, double y) {
    const math::Point p = frame.to_master.apply({x, y});
    x0 = std::min(x0, p.x);
    y0 = std::min(y0, p.y);
    x1 = std::max(x1, p.x);
    y1 = std::max(y1, p.y);
  };
  for (int k = 0; k <= steps; ++k) {
    const double share = static_cast<double>(k) / steps;
    for (const double side : {0.0, 1.0}) {
      hold(share * (facts.width - 1), side * (facts.height - 1));
      hold(side * (facts.width - 1), share * (facts.height - 1));
    }
  }
  constexpr double kSpare = 1;
  const auto within = [](double at, int length) { return static_cast<int>(std::clamp(at, 0.0, double(length))); };
  const int left = within(std::floor(x0) - kSpare, width), right = within(std::ceil(x1) + kSpare + 1, width);
  const int top = within(std::floor(y0) - kSpare, height), bottom = within(std::ceil(y1) + kSpare + 1, height);
  if (left >= right || top >= bottom) return {};
  const int first = left / kReachColumns * kReachColumns;
  const int end = std::min(width, (right + kReachColumns - 1) / kReachColumns * kReachColumns);
  return {first, top, end - first, bottom - top};
}

}  // namespace ng::reduce
