// frame/source.h - pixels on demand. The night's frames are never all in memory: whoever needs pixels asks for rows.
#pragma once

#include <cstddef>
#include <utility>
#include <vector>

#include "base/image.h"
#include "base/result.h"
#include "frame/facts.h"

namespace ng {

class FrameSource {
 public:
  virtual ~FrameSource() = default;

  // Known once the source is open; does not change.
  [[nodiscard]] virtual const FrameFacts& facts() const = 0;

  // Reads out.height full rows of one plane, beginning at row y0, as stored: ADU (BZERO and BSCALE applied), or
  // electrons where facts().calibrated. Pixels that the file marks as undefined or bad are NaN. out.width must be
  // facts().width. Errors: kCorrupt (truncated or damaged data), kIo. One thread at a time per source; different
  // sources may be read at once.
  [[nodiscard]] virtual Result<void> read_rows(int plane, int y0, View<float> out) = 0;

  // Asks it to keep its file open from one reading to the next, or no longer to. A wish: not every kind of file can.
  virtual void keep_open(bool) {}
};

// Keeps files open as long as it lives, for those who read them in many pieces: at most so many, the others go on being
// opened for each piece.
class KeptOpen {
 public:
  static constexpr std::size_t kMost = 128;  // of the 1024 that a process usually may

  explicit KeptOpen(std::vector<FrameSource*> sources) : sources_(std::move(sources)) {
    if (sources_.size() > kMost) sources_.resize(kMost);
    for (FrameSource* s : sources_) s->keep_open(true);
  }
  KeptOpen(const KeptOpen&) = delete;
  KeptOpen& operator=(const KeptOpen&) = delete;
  ~KeptOpen() {
    for (FrameSource* s : sources_) s->keep_open(false);
  }

 private:
  std::vector<FrameSource*> sources_;
};

// The whole plane, for those who measure one frame at a time.
[[nodiscard]] inline Result<Image<float>> read_plane(FrameSource& source, int plane = 0) {
  Image<float> image(source.facts().width, source.facts().height);
  NG_CHECK(source.read_rows(plane, 0, image.plane()));
  return image;
}

}  // namespace ng
