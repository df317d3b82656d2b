#include "math/pick_above.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ng::math {
namespace {

TEST(PickAbove, FindsWhatAPlainLoopFinds) {
  Picked picked;
  for (int width = 0; width < 80; ++width) {
    std::vector<float> row(static_cast<std::size_t>(width));
    for (int x = 0; x < width; ++x) {
      const int h = (x * 7919 + width * 104729) % 13;
      row[static_cast<std::size_t>(x)] = h == 5 ? std::nanf("") : static_cast<float>(h);
    }
    for (const float threshold : {-1.0f, 6.0f, 11.0f, 12.0f}) {
      std::vector<std::int32_t> at;
      for (int x = 0; x < width; ++x)
        if (row[static_cast<std::size_t>(x)] > threshold) at.push_back(x);
      pick_above(row.data(), width, threshold, picked);
      ASSERT_EQ(picked.at, at) << width;
      for (std::size_t k = 0; k < at.size(); ++k) ASSERT_EQ(picked.value[k], row[static_cast<std::size_t>(at[k])]);
    }
  }
}

}  // namespace
}  // namespace ng::math
