#include "reduce/stack/dither_cover.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <vector>

namespace ng::reduce {
namespace {

constexpr int kPatchPx = 12;
constexpr int kPatches = 7;  // in each direction
constexpr double kEmptyShare = 0.05;

// Frames whose pixels cover a place of the output.
std::vector<DropFrame> frames_at(std::span<const DropFrame> frames, math::Point place) {
  std::vector<DropFrame> seeing;
  for (const DropFrame& f : frames) {
    const math::Point p = f.to_output.inverse().apply(place);
    if (p.x >= 0 && p.y >= 0 && p.x <= f.width - 1 && p.y <= f.height - 1) seeing.push_back(f);
  }
  return seeing;
}

// Is at least half of the frames of a panel among those that see a place? Elsewhere is a rim, which tells nothing.
bool well_seen(std::span<const DropFrame> seeing, std::span<const DropFrame> frames) {
  std::map<int, int> seen, all;
  for (const DropFrame& f : frames) ++all[f.panel];
  for (const DropFrame& f : seeing) ++seen[f.panel];
  return std::any_of(seen.begin(), seen.end(), [&](const auto& s) { return 2 * s.second >= all[s.first]; });
}

// Does a frame begin or end within a patch? That is no matter of the dithers.
bool ends_within(std::span<const DropFrame> frames, std::size_t in_middle, int x0, int y0, int size_x, int size_y) {
  for (const double x : {x0 - 1.5, x0 + size_x + 0.5})
    for (const double y : {y0 - 1.5, y0 + size_y + 0.5})
      if (frames_at(frames, {x, y}).size() != in_middle) return true;
  return false;
}

// The piece of a frame whose drops can reach a patch: as if the sensor were no larger. Begins on an even row and
// column, which keeps the colours in their places.
DropFrame piece_of(const DropFrame& frame, int x0, int y0, int size_x, int size_y) {
  const math::PlaneMap to_frame = frame.to_output.inverse();
  double left = frame.width, right = 0, top = frame.height, bottom = 0;
  for (const double x : {x0 - 0.5, x0 + size_x - 0.5}) {
    for (const double y : {y0 - 0.5, y0 + size_y - 0.5}) {
      const math::Point p = to_frame.apply({x, y});
      left = std::min(left, p.x);
      right = std::max(right, p.x);
      top = std::min(top, p.y);
      bottom = std::max(bottom, p.y);
    }
  }
  // A drop reaches half a pixel's diagonal; one pixel more for rounding.
  const int first_x = std::max(0, static_cast<int>(std::floor(left)) - 2) / 2 * 2;
  const int first_y = std::max(0, static_cast<int>(std::floor(top)) - 2) / 2 * 2;
  DropFrame piece = frame;
  piece.width = std::max(0, std::min(frame.width, static_cast<int>(std::ceil(right)) + 3) - first_x);
  piece.height = std::max(0, std::min(frame.height, static_cast<int>(std::ceil(bottom)) + 3) - first_y);
  piece.to_output = frame.to_output.on_subgrid(1, {double(first_x), double(first_y)});
  return piece;
}

// Rows of a frame, all of them measurements.
DropRows blank_rows(const DropFrame& frame, const FrameRows& rows, int planes) {
  const int own = frame.bayer ? 1 : planes;
  DropRows blank{rows.y0, Image<float>(frame.width, rows.count, own, 0.0f), Image<float>(frame.width, rows.count, own)};
  for (int p = 0; p < own; ++p) {
    for (int y = 0; y < rows.count; ++y) {
      for (int x = 0; x < frame.width; ++x) {
        const int plane = frame.bayer ? bayer_plane(*frame.bayer, x, rows.y0 + y) : p;
        blank.variance.plane(p)(x, y) = static_cast<float>(frame.variance[static_cast<std::size_t>(plane)]);
      }
    }
  }
  return blank;
}

// Variance of a wide area around a place, per output pixel: there every drop counts with its whole area, pixfrac^2 / n
// with n pixels of the frame to one of the output.
double wide_variance(std::span<const DropFrame> frames, math::Point place, int plane) {
  const auto p = static_cast<std::size_t>(plane);
  double weights = 0, squares = 0;
  for (const DropFrame& f : frames) {
    const math::PlaneMap to_frame = f.to_output.inverse();
    const double n = std::fabs(to_frame.linear_at(place).determinant());
    const double density = plane_density(f.bayer, plane);
    const double weight = f.weight[p] * f.pixfrac * f.pixfrac;
    weights += density * weight;
    squares += density * weight * weight * f.variance[p] / n;
  }
  return squares / (weights * weights);
}

struct PlaneCover {
  double squares = 0;  // of W / mean - 1
  double pixels = 0, empty = 0;
  double variance = 0;  // of single output pixels that got something
  double wide = 0;      // of the wide areas around them

  void add(View<const DropSum> sums, double wide_there) {
    double total = 0;
    for (int y = 0; y < sums.height; ++y)
      for (int x = 0; x < sums.width; ++x) total += sums(x, y).weight;
    const double mean = total / (sums.width * sums.height);
    for (int y = 0; y < sums.height; ++y) {
      for (int x = 0; x < sums.width; ++x) {
        const double w = mean > 0 ? sums(x, y).weight / mean : 0;
        squares += (w - 1) * (w - 1);
        pixels += 1;
        empty += w < kEmptyShare ? 1 : 0;
        if (sums(x, y).weight <= 0) continue;
        variance += static_cast<double>(sums(x, y).variance) / (sums(x, y).weight * sums(x, y).weight);
        wide += wide_there;
      }
    }
  }
};

}  // namespace

DitherCover dither_cover(std::span<const DropFrame> frames, int width, int height, int planes) {
  std::array<PlaneCover, 3> covers;
  const int size_x = std::min(kPatchPx, width), size_y = std::min(kPatchPx, height);
  for (int j = 0; j < kPatches; ++j) {
    for (int i = 0; i < kPatches; ++i) {
      const int x0 = static_cast<int>((i + 0.5) / kPatches * (width - size_x));
      const int y0 = static_cast<int>((j + 0.5) / kPatches * (height - size_y));
      const math::Point middle{x0 + size_x / 2.0, y0 + size_y / 2.0};
      const std::vector<DropFrame> seeing = frames_at(frames, middle);
      if (!well_seen(seeing, frames) || ends_within(frames, seeing.size(), x0, y0, size_x, size_y)) continue;
      Image<DropSum> sums(size_x, size_y, planes, DropSum{});
      DropWindow window{x0, y0, {}};
      for (int p = 0; p < planes; ++p) window.sums[static_cast<std::size_t>(p)] = sums.plane(p);
      for (const DropFrame& frame : frames) {
        const DropFrame piece = piece_of(frame, x0, y0, size_x, size_y);
        if (piece.width > 0 && piece.height > 0)
          add_drops(piece, blank_rows(piece, {0, piece.height}, planes), 0, piece.height, window);
      }
      for (int p = 0; p < planes; ++p)
        covers[static_cast<std::size_t>(p)].add(sums.plane(p), wide_variance(seeing, middle, p));
    }
  }
  DitherCover worst;
  for (int p = 0; p < planes; ++p) {
    const PlaneCover& cover = covers[static_cast<std::size_t>(p)];
    if (cover.pixels == 0) return {0, 0, 1, 1};
    const double unevenness = std::sqrt(cover.squares / cover.pixels);
    const double empty = cover.empty / cover.pixels;
    if (p == 0 || unevenness > worst.unevenness) worst = {unevenness, p, empty, 1};
  }
  const int told = planes == 3 ? 1 : 0;
  const PlaneCover& cover = covers[static_cast<std::size_t>(told)];
  if (cover.variance > 0) worst.noise_correlation = std::sqrt(cover.wide / cover.variance);
  return worst;
}

}  // namespace ng::reduce
