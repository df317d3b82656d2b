#include "reduce/stack/feather.h"

#include <algorithm>
#include <cstddef>

namespace ng::reduce {

void feather_row(const Feather& feather, const math::PlaneMap& to_frame, int y, std::span<float> factors) {
  constexpr double kLeast = 0.02;
  const double right = feather.frame_width - 1, bottom = feather.frame_height - 1;
  for (std::size_t x = 0; x < factors.size(); ++x) {
    const math::Point p = to_frame.apply({static_cast<double>(x), static_cast<double>(y)});
    const double border = std::min({p.x, p.y, right - p.x, bottom - p.y});
    factors[x] = static_cast<float>(std::clamp(border / feather.width_px, kLeast, 1.0));
  }
}

}  // namespace ng::reduce
