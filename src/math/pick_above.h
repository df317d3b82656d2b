// math/pick_above.h - the few values of a row that exceed a threshold.
#pragma once

#include <cstdint>
#include <vector>

namespace ng::math {

struct Picked {
  std::vector<std::int32_t> at;  // places in the row, ascending
  std::vector<float> value;
};

// Replaces what `picked` holds; a NaN exceeds nothing.
void pick_above(const float* row, int width, float threshold, Picked& picked);

}  // namespace ng::math
