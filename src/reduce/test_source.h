// reduce/test_source.h - a frame that lies in memory. For tests only.
#pragma once

#include <algorithm>
#include <utility>

#include "base/image.h"
#include "frame/source.h"

namespace ng::reduce {

class MemorySource : public FrameSource {
 public:
  explicit MemorySource(Image<float> image) : image_(std::move(image)) {
    facts_.width = image_.width();
    facts_.height = image_.height();
  }
  [[nodiscard]] const FrameFacts& facts() const override { return facts_; }
  [[nodiscard]] Result<void> read_rows(int plane, int y0, View<float> out) override {
    for (int y = 0; y < out.height; ++y) std::copy_n(image_.plane(plane).row(y0 + y), out.width, out.row(y));
    return {};
  }
  [[nodiscard]] float& at(int x, int y) { return image_.plane()(x, y); }

 private:
  Image<float> image_;
  FrameFacts facts_;
};

}  // namespace ng::reduce
