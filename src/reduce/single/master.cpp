#include "reduce/single/master.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>
#include <vector>

#include "base/parallel.h"
#include "math/combine.h"
#include "math/robust.h"

namespace ng::reduce {
namespace {

constexpr int kSampleRows = 48;

using Scale = std::array<float, 4>;  // by position in the 2 x 2 cell

void subtract_zero(const MasterOptions& options, int y0, View<float> rows) {
  for (int y = 0; y < rows.height; ++y) {
    float* row = rows.row(y);
    const float* zero = options.zero.empty() ? nullptr : options.zero.row(y0 + y);
    for (int x = 0; x < rows.width; ++x) row[x] -= zero != nullptr ? zero[x] : options.zero_level;
  }
}

void apply_scale(const Scale& scale, int y0, View<float> rows) {
  for (int y = 0; y < rows.height; ++y) {
    float* row = rows.row(y);
    const float even = scale[static_cast<std::size_t>(((y0 + y) & 1) * 2)];
    const float odd = scale[static_cast<std::size_t>(((y0 + y) & 1) * 2 + 1)];
    for (int x = 0; x < rows.width; ++x) row[x] *= (x & 1) == 0 ? even : odd;
  }
}

// Rows spread over the frame, in pairs so that every colour of a mosaic is met.
Result<Image<float>> sample_rows(FrameSource& frame, const MasterOptions& options) {
  const FrameFacts& facts = frame.facts();
  const int count = std::min(kSampleRows, facts.height / 2 * 2);
  Image<float> rows(facts.width, count);
  for (int k = 0; k < count; k += 2) {
    const int y = static_cast<int>(static_cast<long>(facts.height - 2) * k / std::max(1, count - 2)) / 2 * 2;
    const View<float> pair = rows.plane().rows(k, 2);
    NG_CHECK(frame.read_rows(0, y, pair));
    subtract_zero(options, y, pair);
  }
  return rows;
}

// What brings each colour of a flat to the median 1.
Result<Scale> scale_of(FrameSource& frame, const MasterOptions& options) {
  NG_TRY(const Image<float> rows, sample_rows(frame, options));
  std::array<std::vector<float>, 3> colour;
  for (int y = 0; y < rows.height(); ++y)
    for (int x = 0; x < rows.width(); ++x) {
      const float v = rows.plane()(x, y);
      if (std::isfinite(v))
        colour[static_cast<std::size_t>(options.bayer ? bayer_plane(*options.bayer, x, y) : 0)].push_back(v);
    }
  std::array<float, 3> median{1, 1, 1};
  for (std::size_t c = 0; c < 3; ++c)
    if (!colour[c].empty()) median[c] = math::median(std::span<float>(colour[c]));
  Scale scale{1, 1, 1, 1};
  for (std::size_t k = 0; k < 4; ++k) {
    const float m = median[static_cast<std::size_t>(
        options.bayer ? bayer_plane(*options.bayer, static_cast<int>(k & 1), static_cast<int>(k >> 1)) : 0)];
    if (!(m > 0)) return Error(Code::kInvalidInput, "a flat without light (its median does not exceed the zero level)");
    scale[k] = 1 / m;
  }
  return scale;
}

}  // namespace

Result<Master> make_master(std::span<const std::unique_ptr<FrameSource>> frames, const MasterOptions& options,
                           const Context& ctx) {
  const int width = frames[0]->facts().width;
  const int height = frames[0]->facts().height;
  Master master{Image<float>(width, height), 0};
  std::vector<FrameSource*> sources;
  for (const auto& frame : frames) sources.push_back(frame.get());
  const KeptOpen kept_open(std::move(sources));
  std::vector<Scale> scales(frames.size(), {1, 1, 1, 1});
  if (options.normalise) {
    NG_CHECK(parallel_for(ctx, static_cast<int>(frames.size()), [&](int j) -> Result<void> {
      const auto k = static_cast<std::size_t>(j);
      NG_TRY(scales[k], scale_of(*frames[k], options));
      return {};
    }));
  }
  if (frames.size() > 1) {
    NG_TRY(Image<float> a, sample_rows(*frames[0], options));
    NG_TRY(const Image<float> b, sample_rows(*frames[1], options));
    std::vector<float> difference;
    for (int y = 0; y < a.height(); ++y)
      for (int x = 0; x < width; ++x) {
        const std::size_t cell = static_cast<std::size_t>((y & 1) * 2 + (x & 1));
        const float d = a.plane()(x, y) * scales[0][cell] - b.plane()(x, y) * scales[1][cell];
        if (std::isfinite(d)) difference.push_back(d);
      }
    if (!difference.empty()) master.single_noise = math::sky_level(difference).sigma / 1.41421356f;
  }

  // Two threads must not share a source: bands go one after the other, the frames of a band in parallel, then its rows.
  const auto row_bytes = static_cast<std::size_t>(width) * sizeof(float) * frames.size();
  const int band =
      std::clamp(static_cast<int>(std::min<std::size_t>(ctx.memory_budget_bytes / 4, 6u << 20) / row_bytes), 2, 128);
  std::vector<Image<float>> slots;
  for (std::size_t j = 0; j < frames.size(); ++j) slots.emplace_back(width, band);
  for (int y0 = 0; y0 < height; y0 += band) {
    const int rows = std::min(band, height - y0);
    NG_CHECK(parallel_for(ctx, static_cast<int>(frames.size()), [&](int j) -> Result<void> {
      const auto k = static_cast<std::size_t>(j);
      const View<float> slot = slots[k].plane().rows(0, rows);
      NG_CHECK(frames[k]->read_rows(0, y0, slot));
      if (!options.zero.empty() || options.zero_level != 0) subtract_zero(options, y0, slot);
      if (options.normalise) apply_scale(scales[k], y0, slot);
      return {};
    }));
    NG_CHECK(parallel_for(ctx, rows, [&](int y) {
      std::vector<const float*> pointers;
      for (const auto& slot : slots) pointers.push_back(slot.plane().row(y));
      math::clipped_mean_rows(pointers, width, options.kappa, master.single_noise, master.image.plane().row(y0 + y));
    }));
    ctx.advance(rows);
  }
  return master;
}

}  // namespace ng::reduce
