// diagnose/frame_stack.h - frames of one kind, added up pixel by pixel: mean and scatter of each pixel.
#pragma once

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"

namespace ng::diagnose {

// Running mean and sum of squares (Welford 1962, Technometrics 4, 419). A pixel without value in one frame has none in
// the stack. Frames of odd and of even number are kept apart too: what is in both halves is no chance.
class FrameStack {
 public:
  // Errors: kNoMatch (another size), kCancelled.
  [[nodiscard]] Result<void> add(View<const float> frame, const Context& ctx);

  [[nodiscard]] int count() const { return count_; }
  [[nodiscard]] View<const float> mean() const { return mean_.plane(); }
  // Sum of squared deviations from the mean; divided by count() - 1: the variance.
  [[nodiscard]] View<const float> squares() const { return squares_.plane(); }
  // Smaller one of the means of the two halves; of one frame: the frame.
  [[nodiscard]] float lower(int x, int y) const;
  // Larger one of them.
  [[nodiscard]] float upper(int x, int y) const;

 private:
  int count_ = 0;
  Image<float> mean_, squares_, first_half_;
};

}  // namespace ng::diagnose
