#include "reduce/single/calibrate_frame.h"

#include <algorithm>
#include <utility>

#include "reduce/single/bridge.h"

namespace ng::reduce {
namespace {

constexpr int kRowsAtOnce = 30;

// Marks of as many rows as bridging looks at.
class Marks {
 public:
  // All rows in `whole`, or where that is empty, the latest.
  Marks(View<std::uint8_t> whole, int width, int reach) : marks_(whole), reach_(reach) {
    if (!whole.empty()) return;
    own_ = Image<std::uint8_t>(width, kRowsAtOnce + 2 * reach);
    marks_ = own_.plane();
  }
  [[nodiscard]] int first() const { return first_; }  // row
  // The first rows go where there is no room for the next: those further above row y than anybody will look.
  void make_room(int y, int count) {
    if (y + count - first_ <= marks_.height) return;
    const int keep = y - 2 * reach_;
    for (int row = keep; row < y; ++row) std::copy_n(marks_.row(row - first_), marks_.width, marks_.row(row - keep));
    first_ = keep;
  }
  [[nodiscard]] View<std::uint8_t> rows(int y, int count) const { return marks_.rows(y - first_, count); }

 private:
  Image<std::uint8_t> own_;
  View<std::uint8_t> marks_;
  int reach_;
  int first_ = 0;
};

}  // namespace

Result<void> calibrate_frame_rows(FrameSource& source, int plane, const Calibration& calibration, int step, int y0,
                                  View<float> rows, View<std::uint8_t> bad,
                                  const std::function<void(View<const float>)>& stored) {
  const int reach = kBridgeReach * step;
  Marks marks(bad, rows.width, reach);
  int bridged = 0;
  for (int y = 0; y < rows.height; y += kRowsAtOnce) {
    const int count = std::min(kRowsAtOnce, rows.height - y);
    const View<float> here = rows.rows(y, count);
    NG_CHECK(source.read_rows(plane, y0 + y, here));
    if (stored) stored(here);
    marks.make_room(y, count);
    calibrate_rows(calibration, y0 + y, here, marks.rows(y, count));
    // As far as all rows are there that the median of a ring may be taken from.
    const int end = y + count, top = marks.first();
    const int ready = end == rows.height ? end : std::max(bridged, end - reach);
    bridge_bad_pixels(rows.rows(top, end - top), marks.rows(top, end - top), step, bridged - top, ready - top);
    bridged = ready;
  }
  return {};
}

}  // namespace ng::reduce
