#include "diagnose/frame_stack.h"

#include "base/parallel.h"

namespace ng::diagnose {

Result<void> FrameStack::add(View<const float> frame, const Context& ctx) {
  if (count_ == 0) {
    mean_ = Image<float>(frame.width, frame.height, 1, 0.0f);
    squares_ = Image<float>(frame.width, frame.height, 1, 0.0f);
    first_half_ = Image<float>(frame.width, frame.height, 1, 0.0f);
  }
  if (frame.width != mean_.width() || frame.height != mean_.height())
    return Error(Code::kNoMatch, "a frame differs in size from those before it");
  ++count_;
  const bool first = count_ % 2 == 1;
  const float share = 1.0f / static_cast<float>(count_), half_share = 1.0f / static_cast<float>((count_ + 1) / 2);
  return parallel_for(ctx, frame.height, [&](int y) {
    const float* in = frame.row(y);
    float *mean = mean_.plane().row(y), *squares = squares_.plane().row(y), *half = first_half_.plane().row(y);
    for (int x = 0; x < frame.width; ++x) {
      const float off = in[x] - mean[x];
      mean[x] += off * share;
      squares[x] += off * (in[x] - mean[x]);
      if (first) half[x] += (in[x] - half[x]) * half_share;
    }
  });
}

float FrameStack::lower(int x, int y) const {
  const int odd = (count_ + 1) / 2, even = count_ / 2;
  const float one = first_half_.plane()(x, y);
  if (even == 0) return one;
  return std::min(
      one, (mean()(x, y) * static_cast<float>(count_) - one * static_cast<float>(odd)) / static_cast<float>(even));
}

float FrameStack::upper(int x, int y) const {
  const int odd = (count_ + 1) / 2, even = count_ / 2;
  const float one = first_half_.plane()(x, y);
  if (even == 0) return one;
  return std::max(
      one, (mean()(x, y) * static_cast<float>(count_) - one * static_cast<float>(odd)) / static_cast<float>(even));
}

}  // namespace ng::diagnose
