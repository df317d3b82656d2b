#include "measure/trail_lines.h"

#include <algorithm>
#include <span>
#include <utility>

#include "math/best_line.h"

namespace ng::measure {
namespace {

constexpr int kShortest = 30;  // bins: shorter lines cannot be told from anything else

using Bins = View<const std::int32_t>;

// In squares: every line of the memory that is read or written is then met while it is near.
Image<std::int32_t> transposed(Bins bins) {
  constexpr int kSide = 16;
  Image<std::int32_t> out(bins.height, bins.width);
  for (int y0 = 0; y0 < bins.height; y0 += kSide)
    for (int x0 = 0; x0 < bins.width; x0 += kSide)
      for (int x = x0; x < std::min(bins.width, x0 + kSide); ++x)
        for (int y = y0; y < std::min(bins.height, y0 + kSide); ++y) out.plane()(y, x) = bins(x, y);
  return out;
}

// From the last row to the first.
Bins reversed(Bins bins) {
  return {bins.row(bins.height - 1), bins.width, bins.height, -bins.stride};
}

}  // namespace

Course strongest_line(const TrailBins& b, math::LineSums& sums) {
  const Bins rows = b.light.plane();
  const Image<std::int32_t> columns = transposed(rows);
  Course best;
  // Lines are summed across the rows of what is handed in, and rise along them: two directions by transposing, two by
  // going through the rows backwards.
  for (const bool steep : {false, true})
    for (const bool backwards : {false, true}) {
      const Bins along = steep ? rows : columns.plane();
      sums.add_up(backwards ? reversed(along) : along, [&](int rise, std::span<const std::int32_t> lines) {
        const math::Best line = math::best_line(lines, kShortest, best.snr);
        if (line.at < 0) return;
        double from = 0, to = math::summed_columns(along.height) - 1;
        if (backwards) {
          from = along.height - 1 - from;
          to = along.height - 1 - to;
        }
        const double a0 = b.pixel(from), a1 = b.pixel(to), r0 = b.pixel(line.at - rise), r1 = b.pixel(line.at);
        best = steep ? Course{r0, a0, r1, a1, line.snr} : Course{a0, r0, a1, r1, line.snr};
      });
    }
  return best;
}

}  // namespace ng::measure
