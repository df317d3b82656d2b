// app/full_level.h - where the values of a raw frame end because converter or sensor were full.
//
// At least 8 pixels lie within a thousandth of the highest, and more than in the nine thousandths below (offsets of
// columns and a filter of the camera's own spread a full well over a few steps).
#pragma once

#include <map>

#include "base/image.h"

namespace ng::app {

class FullLevel {
 public:
  void add(View<const float> raw);  // some rows of the frame, in any order

  // The lower end of that thousandth; 0 where nothing was full.
  [[nodiscard]] float level() const;

 private:
  float top_ = 0;
  std::map<float, int> highest_;  // pixels of each value within a hundredth of the highest
};

// Of a whole frame.
[[nodiscard]] float full_level(View<const float> raw);

}  // namespace ng::app
