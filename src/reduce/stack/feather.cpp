#include "reduce/stack/feather.h"

#include <algorithm>
#include <cstddef>

#include "math/row_places.h"

namespace ng::reduce {

float feather_at(const Feather& feather, math::Point in_frame) {
  constexpr double kLeast = 0.02;
  const double right = feather.frame_width - 1, bottom = feather.frame_height - 1;
  const double border = std::min({in_frame.x, in_frame.y, right - in_frame.x, bottom - in_frame.y});
  return static_cast<float>(std::clamp(border / feather.width_px, kLeast, 1.0));
}

void feather_row(const Feather& feather, const math::PlaneMap& to_frame, int x0, int y, std::span<float> factors) {
  const math::PlaneMap from_row = to_frame.on_subgrid(1, {double(x0), double(y)});
  const math::RowPlaces places(from_row, 0, static_cast<int>(factors.size()));
  for (std::size_t x = 0; x < factors.size(); ++x) factors[x] = feather_at(feather, places.at(static_cast<int>(x)));
}

}  // namespace ng::reduce
