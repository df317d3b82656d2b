// frame/source.h - pixels on demand. The night's frames are never all in memory: whoever needs pixels asks for rows.
#pragma once

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
};

// The whole plane, for those who measure one frame at a time.
[[nodiscard]] inline Result<Image<float>> read_plane(FrameSource& source, int plane = 0) {
  Image<float> image(source.facts().width, source.facts().height);
  NG_CHECK(source.read_rows(plane, 0, image.plane()));
  return image;
}

}  // namespace ng
