// math/columns_ahead.h - asking the memory for what comes next.
#pragma once

#include <algorithm>

namespace ng::math {

// A dozen rows side by side are more than the processor foresees by itself. Who goes through them asks for this many
// columns ahead: two lines of the cache, at which half of the waiting is gone; more did not help.
inline constexpr int kColumnsAhead = 32;

[[nodiscard]] inline int column_ahead(int x, int width) {
  return std::min(x + kColumnsAhead, width - 1);
}

}  // namespace ng::math
