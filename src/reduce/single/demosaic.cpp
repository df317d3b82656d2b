#include "reduce/single/demosaic.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <memory>

#include "base/parallel.h"

namespace ng::reduce {
namespace {

constexpr int kMargin = kDemosaicMargin;
constexpr int kTileWidth = 140;  // 160 floats per scratch row: ten cache lines
constexpr int kTileHeight = 64;
constexpr int kStride = kTileWidth + 2 * kMargin;
constexpr int kRows = kTileHeight + 2 * kMargin;
constexpr float kClear = 24;  // times quieter that one direction must be, to be believed alone
constexpr float kDetail = kDemosaicDetail;

using Plane = std::array<float, static_cast<std::size_t>(kStride) * kRows>;

// In a row, the colour that alternates with green is its `own`, the third is the `other`: red and blue in rows of red
// filters, blue and red in the rest. Above and below a pixel the two change roles. That is all the symmetry there is in
// the mosaic, and with it one set of loops serves the four patterns.
struct Tile {
  Plane mosaic;
  Plane across;     // mosaic minus the green interpolated along the row
  Plane along;      // ... along the column
  Plane row_share;  // weight of the row's direction: 1, 1/2 or 0
  Plane green;
  Plane own;
  Plane other;
  std::array<std::array<float, kStride>, 2> is_green{};  // 1 at the green pixels of even and odd scratch rows

  static constexpr std::size_t row(int y) { return static_cast<std::size_t>(y) * kStride; }
};

// Around the outermost pixels, back and forth for as long as it takes: the period is even, so colours stay in place.
int mirror(int i, int n) {
  const int period = 2 * (n - 1);
  i = std::abs(i) % period;
  return i < n ? i : period - i;
}

// Each pixel by the factor of its colour; 1 for green.
void balance_colours(Tile& t, const std::array<float, 3>& factors, BayerPattern pattern, int x0, int y0) {
  for (int y = 0; y < kRows; ++y) {
    std::array<float, 2> factor{};
    for (int k = 0; k < 2; ++k)
      factor[static_cast<std::size_t>(k)] =
          factors[static_cast<std::size_t>(bayer_plane(pattern, x0 - kMargin + k, y0 - kMargin + y))];
    float* row = &t.mosaic[Tile::row(y)];
    for (int x = 0; x < kStride; x += 2) {
      row[x] *= factor[0];
      row[x + 1] *= factor[1];
    }
  }
}

void copy_scaled(const float* from, int count, float factor, float* to) {
  for (int x = 0; x < count; ++x) to[x] = from[x] * factor;
}

// Loads the tile with its margin; true when it holds a NaN.
bool load(Tile& t, View<const float> mosaic, int x0, int y0) {
  bool any_nan = false;
  std::array<int, kStride> column;
  for (int x = 0; x < kStride; ++x) column[static_cast<std::size_t>(x)] = mirror(x0 - kMargin + x, mosaic.width);
  const bool inside = x0 >= kMargin && x0 - kMargin + kStride <= mosaic.width;
  for (int y = 0; y < kRows; ++y) {
    const float* in = mosaic.row(mirror(y0 - kMargin + y, mosaic.height));
    float* out = &t.mosaic[Tile::row(y)];
    if (inside) {
      std::memcpy(out, in + x0 - kMargin, kStride * sizeof(float));
    } else {
      for (int x = 0; x < kStride; ++x) out[x] = in[column[static_cast<std::size_t>(x)]];
    }
    int odd = 0;
    for (int x = 0; x < kStride; ++x) odd |= std::fabs(out[x]) <= std::numeric_limits<float>::max() ? 0 : 1;
    any_nan = any_nan || odd != 0;
  }
  return any_nan;
}

void fill_holes(Tile& t) {
  Plane& known = t.across;  // not in use yet
  std::copy(t.mosaic.begin(), t.mosaic.end(), known.begin());
  for (int y = 2; y < kRows - 2; ++y) {
    const auto& green = t.is_green[static_cast<std::size_t>(y & 1)];
    for (int x = 2; x < kStride - 2; ++x) {
      const std::size_t at = Tile::row(y) + static_cast<std::size_t>(x);
      if (std::isfinite(known[at])) continue;
      float sum = 0;
      float count = 0;
      const bool diagonals = green[static_cast<std::size_t>(x)] != 0;
      for (int dy = -2; dy <= 2; ++dy) {
        for (int dx = -2; dx <= 2; ++dx) {
          const bool even = ((dx | dy) & 1) == 0;
          const bool odd = ((dx & dy) & 1) != 0;
          if (!even && !(diagonals && odd)) continue;
          const float v = known[at + static_cast<std::size_t>(dy * kStride + dx)];
          if (!std::isfinite(v)) continue;
          sum += v;
          ++count;
        }
      }
      t.mosaic[at] = count > 0 ? sum / count : std::numeric_limits<float>::quiet_NaN();
    }
  }
}

// The loops below run over the inner tile widened by `reach` on every side; reach shrinks as stages follow each other.
template <typename Body>
void for_rows(int reach, const Body& body) {
  const int x0 = kMargin - reach;
  const int x1 = kStride - kMargin + reach;
  for (int y = kMargin - reach; y < kRows - kMargin + reach; ++y) body(y, x0, x1);
}

void colour_differences(Tile& t) {  // eq. 1-4, with less detail of the other colours
  for_rows(6, [&t](int y, int x0, int x1) {
    const float* m = &t.mosaic[Tile::row(y)];
    float* h = &t.across[Tile::row(y)];
    float* v = &t.along[Tile::row(y)];
    for (int x = x0; x < x1; ++x) {
      h[x] = m[x] - (0.5f * (m[x - 1] + m[x + 1]) + kDetail * (2 * m[x] - m[x - 2] - m[x + 2]));
      v[x] = m[x] - (0.5f * (m[x - kStride] + m[x + kStride]) +
                     kDetail * (2 * m[x] - m[x - 2 * kStride] - m[x + 2 * kStride]));
    }
  });
}

void decide(Tile& t) {  // section II-B: the direction in which colour differences vary less
  for_rows(4, [&t](int y, int x0, int x1) {
    constexpr int kS = kStride;
    const float* m = &t.mosaic[Tile::row(y)];
    const float* h = &t.across[Tile::row(y)];
    const float* v = &t.along[Tile::row(y)];
    const float* is_green = t.is_green[static_cast<std::size_t>(y & 1)].data();
    float* row_share = &t.row_share[Tile::row(y)];
    float* green = &t.green[Tile::row(y)];
    for (int x = x0; x < x1; ++x) {
      const auto row_change = [&](int at) { return std::fabs(h[at - 2] - h[at]) + std::fabs(h[at] - h[at + 2]); };
      const auto column_change = [&](int at) {
        return std::fabs(v[at - 2 * kS] - v[at]) + std::fabs(v[at] - v[at + 2 * kS]);
      };
      const float in_rows = 3 * row_change(x) + row_change(x - 2 * kS) + row_change(x + 2 * kS) +
                            std::fabs(h[x - 1 - kS] - h[x + 1 - kS]) + std::fabs(h[x - 1 + kS] - h[x + 1 + kS]);
      const float in_columns = 3 * column_change(x) + column_change(x - 2) + column_change(x + 2) +
                               std::fabs(v[x - 1 - kS] - v[x - 1 + kS]) + std::fabs(v[x + 1 - kS] - v[x + 1 + kS]);
      const float row_wins = in_columns > kClear * in_rows ? 0.5f : 0.0f;
      const float column_wins = in_rows > kClear * in_columns ? 0.5f : 0.0f;
      const float w = 0.5f + row_wins - column_wins;
      row_share[x] = w;
      green[x] = is_green[x] != 0 ? m[x] : m[x] - (w * h[x] + (1 - w) * v[x]);
    }
  });
}

// Own and other colour at the green pixels, from the differences to green at their neighbours.
void colours_at_green(Tile& t, int reach) {
  for_rows(reach, [&t](int y, int x0, int x1) {
    constexpr int kS = kStride;
    const float* m = &t.mosaic[Tile::row(y)];
    const float* g = &t.green[Tile::row(y)];
    const float* is_green = t.is_green[static_cast<std::size_t>(y & 1)].data();
    float* own = &t.own[Tile::row(y)];
    float* other = &t.other[Tile::row(y)];
    for (int x = x0; x < x1; ++x) {
      const float in_row = m[x] + 0.5f * ((m[x - 1] - g[x - 1]) + (m[x + 1] - g[x + 1]));
      const float in_column = m[x] + 0.5f * ((m[x - kS] - g[x - kS]) + (m[x + kS] - g[x + kS]));
      own[x] = is_green[x] != 0 ? in_row : m[x];
      other[x] = is_green[x] != 0 ? in_column : other[x];
    }
  });
}

// The other colour at red and blue pixels: mean of the two (first pass) or low-pass of three (refining) differences.
void other_at_own(Tile& t, int reach, bool refining) {
  for_rows(reach, [&t, refining](int y, int x0, int x1) {
    constexpr int kS = kStride;
    const float* m = &t.mosaic[Tile::row(y)];
    const float* own = &t.own[Tile::row(y)];
    const float* is_green = t.is_green[static_cast<std::size_t>(y & 1)].data();
    const float* row_share = &t.row_share[Tile::row(y)];
    float* other = &t.other[Tile::row(y)];
    std::array<float, kStride> line;  // green neighbours are read, own pixels written: a line aside lets vectors do it
    const float weight = refining ? 1.0f / 3.0f : 0.5f;
    for (int x = x0; x < x1; ++x) {
      const float in_row = (other[x - 1] - own[x - 1]) + (other[x + 1] - own[x + 1]);
      const float in_column = (own[x - kS] - other[x - kS]) + (own[x + kS] - other[x + kS]);
      const float here = refining ? other[x] - own[x] : 0.0f;
      const float value = m[x] + weight * (row_share[x] * in_row + (1 - row_share[x]) * in_column + here);
      line[static_cast<std::size_t>(x)] = is_green[x] != 0 ? other[x] : value;
    }
    std::copy(line.begin() + x0, line.begin() + x1, other + x0);
  });
}

void refine_green(Tile& t, int reach) {  // section II-D
  for_rows(reach, [&t](int y, int x0, int x1) {
    constexpr int kS = kStride;
    const float* m = &t.mosaic[Tile::row(y)];
    const float* own = &t.own[Tile::row(y)];
    const float* other = &t.other[Tile::row(y)];
    const float* is_green = t.is_green[static_cast<std::size_t>(y & 1)].data();
    const float* row_share = &t.row_share[Tile::row(y)];
    float* g = &t.green[Tile::row(y)];
    for (int x = x0; x < x1; ++x) {
      const float in_row = (own[x - 1] - m[x - 1]) + (own[x + 1] - m[x + 1]);
      const float in_column = (other[x - kS] - m[x - kS]) + (other[x + kS] - m[x + kS]);
      const float value =
          m[x] - (1.0f / 3.0f) * (row_share[x] * in_row + (1 - row_share[x]) * in_column + (m[x] - g[x]));
      g[x] = is_green[x] != 0 ? m[x] : value;
    }
  });
}

void run_tile(Tile& t, View<const float> mosaic, BayerPattern pattern, const ColourBalance& balance,
              std::array<View<float>, 3> out, int x0, int y0) {
  for (int y = 0; y < 2; ++y)
    for (int x = 0; x < kStride; ++x)
      t.is_green[static_cast<std::size_t>(y)][static_cast<std::size_t>(x)] =
          bayer_plane(pattern, x0 - kMargin + x, y0 - kMargin + y) == 1 ? 1.0f : 0.0f;
  if (load(t, mosaic, x0, y0)) fill_holes(t);
  const bool balanced = balance.red != 1 || balance.blue != 1;
  if (balanced) balance_colours(t, {balance.red, 1, balance.blue}, pattern, x0, y0);
  colour_differences(t);
  decide(t);
  colours_at_green(t, 3);
  other_at_own(t, 2, false);
  refine_green(t, 2);
  colours_at_green(t, 1);
  other_at_own(t, 0, true);

  const int width = std::min(kTileWidth, mosaic.width - x0);
  const int height = std::min(kTileHeight, mosaic.height - y0);
  for (int y = 0; y < height; ++y) {
    const bool red_row = bayer_plane(pattern, 0, y0 + y) == 0 || bayer_plane(pattern, 1, y0 + y) == 0;
    const std::size_t at = Tile::row(y + kMargin) + kMargin;
    copy_scaled(&(red_row ? t.own : t.other)[at], width, 1 / balance.red, out[0].row(y0 + y) + x0);
    copy_scaled(&t.green[at], width, 1, out[1].row(y0 + y) + x0);
    copy_scaled(&(red_row ? t.other : t.own)[at], width, 1 / balance.blue, out[2].row(y0 + y) + x0);
  }
}

}  // namespace

Result<void> demosaic_menon(View<const float> mosaic, BayerPattern pattern, const ColourBalance& balance,
                            View<float> red, View<float> green, View<float> blue, const Context& ctx) {
  const std::array out = {red, green, blue};
  for (const View<float>& plane : out)
    if (plane.width != mosaic.width || plane.height != mosaic.height)
      return Error(Code::kInvalidInput, "mosaic and colour planes differ in size");
  if (mosaic.width < 4 || mosaic.height < 4)
    return Error(Code::kInvalidInput, "a mosaic of fewer than 4 x 4 pixels cannot be demosaiced");
  const int tile_rows = (mosaic.height + kTileHeight - 1) / kTileHeight;
  return parallel_for(ctx, tile_rows, [&](int i) {
    const auto tile = std::make_unique<Tile>();
    for (int x0 = 0; x0 < mosaic.width; x0 += kTileWidth)
      run_tile(*tile, mosaic, pattern, balance, out, x0, i * kTileHeight);
  });
}

}  // namespace ng::reduce
