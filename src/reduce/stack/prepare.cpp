#include "reduce/stack/prepare.h"

#include <algorithm>
#include <cmath>

#include "reduce/single/bridge.h"
#include "reduce/single/calibrate_frame.h"
#include "reduce/single/demosaic.h"

namespace ng::reduce {
namespace {

// After bridging: the values of a strip stay, so that the kernels at its border meet no hole; they only count as bad.
void mark_strips(const std::vector<Strip>& strips, int y0, View<std::uint8_t> bad) {
  for (const Strip& s : strips) {
    for (int y = 0; y < bad.height; ++y) {
      const double rest = s.distance - s.normal_y * (y0 + y);
      double from = 0, to = bad.width - 1;
      if (std::fabs(s.normal_x) > 1e-9) {
        const double a = (rest - s.half_width) / s.normal_x, b = (rest + s.half_width) / s.normal_x;
        from = std::max(from, std::ceil(std::min(a, b)));
        to = std::min(to, std::floor(std::max(a, b)));
      } else if (std::fabs(rest) > s.half_width) {
        continue;
      }
      if (from <= to)
        std::fill_n(bad.row(y) + static_cast<int>(from), static_cast<int>(to - from) + 1, std::uint8_t{1});
    }
  }
}

}  // namespace

Result<PreparedRows> prepare_rows(const StackFrame& frame, int y0, int count, int planes, const Context& ctx) {
  const FrameFacts& facts = frame.source->facts();
  const int step = frame.bayer ? 2 : 1;
  const int margin = kBridgeReach * step + (frame.bayer ? kDemosaicMargin : 0);
  int first = std::max(0, y0 - margin);
  int last = std::min(facts.height, y0 + count + margin);
  if (frame.bayer) {  // the demosaicing wants at least four rows
    last = std::min(facts.height, std::max(last, first + 4));
    first = std::max(0, std::min(first, last - 4));
  }

  PreparedRows rows{{}, Image<std::uint8_t>(facts.width, last - first), first};
  const int read_planes = frame.bayer ? 1 : planes;
  Image<float> raw(facts.width, last - first, read_planes);
  for (int p = 0; p < read_planes; ++p) {
    NG_CHECK(calibrate_frame_rows(*frame.source, p, frame.calibration, step, first, raw.plane(p), rows.bad.plane()));
  }
  mark_strips(frame.strips, first, rows.bad.plane());
  if (!frame.bayer) {
    rows.pixels = std::move(raw);
    return rows;
  }
  rows.pixels = Image<float>(facts.width, last - first, 3);
  NG_CHECK(demosaic_menon(raw.plane(), bayer_shifted(*frame.bayer, 0, first), frame.balance, rows.pixels.plane(0),
                          rows.pixels.plane(1), rows.pixels.plane(2), ctx));
  return rows;
}

}  // namespace ng::reduce
