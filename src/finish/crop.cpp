#include "finish/crop.h"

#include <algorithm>
#include <cmath>
#include <span>
#include <vector>

#include "finish/sampling.h"
#include "math/robust.h"

namespace ng::finish {

void fold_coverage(View<const float> coverage, View<float> common) {
  std::vector<float> seen = sample(coverage, 200000);
  std::erase_if(seen, [](float v) { return !(v > 0); });
  const float full = seen.empty() ? 1.0f : math::median(std::span<float>(seen));
  for (int y = 0; y < coverage.height; ++y) {
    const float* in = coverage.row(y);
    float* out = common.row(y);
    for (int x = 0; x < coverage.width; ++x) out[x] = std::min(out[x], in[x] > 0 ? in[x] / full : 0.0f);
  }
}

Region largest_rectangle(View<const std::uint8_t> good) {
  struct Open {
    int x;
    int height;
  };
  Region best;
  std::vector<int> heights(static_cast<std::size_t>(good.width) + 1, 0);
  std::vector<Open> stack;
  for (int y = 0; y < good.height; ++y) {
    stack.clear();
    for (int x = 0; x <= good.width; ++x) {
      int& height = heights[static_cast<std::size_t>(x)];
      height = x < good.width && good(x, y) != 0 ? height + 1 : 0;
      int start = x;
      while (!stack.empty() && stack.back().height >= height) {
        const Open top = stack.back();
        stack.pop_back();
        const Region r{top.x, y - top.height + 1, x - top.x, top.height};
        if (std::int64_t{r.width} * r.height > std::int64_t{best.width} * best.height) best = r;
        start = top.x;
      }
      if (height > 0) stack.push_back({start, height});
    }
  }
  return best;
}

namespace {

// Small islands of bad blocks that do not touch the border become good.
void forgive_islands(View<std::uint8_t> good, int largest) {
  struct Block {
    int x, y;
  };
  constexpr std::uint8_t kSeen = 2;
  std::vector<Block> island;
  for (int y0 = 0; y0 < good.height; ++y0) {
    for (int x0 = 0; x0 < good.width; ++x0) {
      if (good(x0, y0) != 0) continue;
      island.assign(1, {x0, y0});
      good(x0, y0) = kSeen;
      bool at_border = false;
      for (std::size_t i = 0; i < island.size(); ++i) {
        const Block b = island[i];
        at_border = at_border || b.x == 0 || b.y == 0 || b.x == good.width - 1 || b.y == good.height - 1;
        for (const Block& n : {Block{b.x - 1, b.y}, {b.x + 1, b.y}, {b.x, b.y - 1}, {b.x, b.y + 1}}) {
          if (n.x < 0 || n.y < 0 || n.x >= good.width || n.y >= good.height || good(n.x, n.y) != 0) continue;
          good(n.x, n.y) = kSeen;
          island.push_back(n);
        }
      }
      if (at_border || static_cast<int>(island.size()) > largest) continue;
      for (const Block& b : island) good(b.x, b.y) = 1;
    }
  }
  for (int y = 0; y < good.height; ++y)
    for (int x = 0; x < good.width; ++x)
      if (good(x, y) == kSeen) good(x, y) = 0;
}

// Blocks at the edge are good when most of their pixels are; the columns and rows that are not fall away here.
Region trimmed(View<const float> common, Region r, const CropOptions& options) {
  const auto is_good = [&](const Region& line) {
    int count = 0;
    for (int y = line.y0; y < line.y0 + line.height; ++y)
      for (int x = line.x0; x < line.x0 + line.width; ++x)
        count += static_cast<double>(common(x, y)) >= options.min_coverage_share ? 1 : 0;
    return count >= options.min_good_share * line.width * line.height;
  };
  for (int i = 1; i < options.block_px && r.width > 1 && r.height > 1; ++i) {
    const bool left = is_good({r.x0, r.y0, 1, r.height});
    const bool right = is_good({r.x0 + r.width - 1, r.y0, 1, r.height});
    const bool top = is_good({r.x0, r.y0, r.width, 1});
    const bool bottom = is_good({r.x0, r.y0 + r.height - 1, r.width, 1});
    r = {r.x0 + (left ? 0 : 1), r.y0 + (top ? 0 : 1), r.width - (left ? 0 : 1) - (right ? 0 : 1),
         r.height - (top ? 0 : 1) - (bottom ? 0 : 1)};
  }
  return r;
}

}  // namespace

Region common_region(View<const float> common, const CropOptions& options) {
  const int block = std::max(1, options.block_px);
  const int columns = (common.width + block - 1) / block;
  const int rows = (common.height + block - 1) / block;
  if (columns == 0 || rows == 0) return {};
  Image<std::uint8_t> good(columns, rows);
  for (int by = 0; by < rows; ++by) {
    for (int bx = 0; bx < columns; ++bx) {
      const Region cell = intersect({bx * block, by * block, block, block}, {0, 0, common.width, common.height});
      int count = 0;
      for (int y = cell.y0; y < cell.y0 + cell.height; ++y)
        for (int x = cell.x0; x < cell.x0 + cell.width; ++x)
          count += static_cast<double>(common(x, y)) >= options.min_coverage_share ? 1 : 0;
      good.plane()(bx, by) = count >= options.min_good_share * cell.width * cell.height ? 1 : 0;
    }
  }
  forgive_islands(good.plane(), options.forgiven_blocks);
  const Region r = largest_rectangle(good.plane());
  if (r.empty()) return {};
  return trimmed(
      common,
      intersect({r.x0 * block, r.y0 * block, r.width * block, r.height * block}, {0, 0, common.width, common.height}),
      options);
}

}  // namespace ng::finish
