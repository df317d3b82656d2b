#include "measure/background.h"

#include <algorithm>
#include <cmath>
#include <span>
#include <vector>

#include "base/parallel.h"
#include "math/robust.h"

namespace ng::measure {
namespace {

// A quarter of the pixels is plenty for a median of 4096 and four times as fast; odd offsets alternate so that no
// column pattern of the sensor is met on one side only.
struct Sample {
  std::size_t looked_at = 0;
  std::span<const float> values;  // the usable ones
};
Sample sample_box(View<const float> box, std::vector<float>& work) {
  work.resize(static_cast<std::size_t>(box.width) * static_cast<std::size_t>(box.height));
  const int step = box.width * box.height >= 1024 ? 2 : 1;
  std::size_t looked_at = 0, usable = 0;
  for (int y = 0; y < box.height; y += step) {
    const float* row = box.row(y);
    for (int x = (y / 2) % step; x < box.width; x += step) {
      work[usable] = row[x];
      usable += std::isfinite(row[x]) ? 1 : 0;
      ++looked_at;
    }
  }
  return {looked_at, std::span<const float>(work).first(usable)};
}

// Replaces values without data, and levels out of line with their surroundings, by the median of the neighbours.
void mend_mesh(BackgroundMap& map) {
  const Image<float> level = map.level.clone();
  const Image<float> noise = map.noise.clone();
  const int columns = level.width();
  const int rows = level.height();
  const float overall_level = map.median_level();
  const float overall_noise = map.median_noise();
  std::vector<float> levels, noises;
  for (int j = 0; j < rows; ++j) {
    for (int i = 0; i < columns; ++i) {
      levels.clear();
      noises.clear();
      for (int dj = -1; dj <= 1; ++dj) {
        for (int di = -1; di <= 1; ++di) {
          if (i + di < 0 || j + dj < 0 || i + di >= columns || j + dj >= rows) continue;
          const float l = level.plane()(i + di, j + dj);
          if (std::isnan(l)) continue;
          levels.push_back(l);
          noises.push_back(noise.plane()(i + di, j + dj));
        }
      }
      const bool alone = levels.empty();
      const float near_level = alone ? overall_level : math::median(std::span<float>(levels));
      const float near_noise = alone ? overall_noise : math::median(std::span<float>(noises));
      float& l = map.level.plane()(i, j);
      float& s = map.noise.plane()(i, j);
      const bool missing = std::isnan(l);
      if (missing || l > near_level + 3 * near_noise) l = near_level;
      if (missing || s > 1.5f * near_noise) s = near_noise;
      if (!(s > 0)) s = overall_noise > 0 ? overall_noise : 1e-6f;
    }
  }
}

}  // namespace

Result<BackgroundMap> measure_background(View<const float> image, const BackgroundOptions& options,
                                         const Context& ctx) {
  const int box = options.box_px;
  const int columns = (image.width + box - 1) / box;
  const int rows = (image.height + box - 1) / box;
  BackgroundMap map{image.width, image.height, box, Image<float>(columns, rows), Image<float>(columns, rows)};
  NG_CHECK(parallel_for(ctx, rows, [&](int j) {
    std::vector<float> work;
    for (int i = 0; i < columns; ++i) {
      const Region region = intersect({i * box, j * box, box, box}, {0, 0, image.width, image.height});
      const Sample sample = sample_box(image.crop(region), work);
      math::SkyLevel sky{std::nanf(""), std::nanf("")};
      const auto enough = options.min_valid * static_cast<double>(sample.looked_at);
      if (static_cast<double>(sample.values.size()) >= enough && !sample.values.empty())
        sky = math::sky_level(sample.values);
      map.level.plane()(i, j) = sky.level;
      map.noise.plane()(i, j) = sky.sigma;
    }
  }));

  std::vector<float> known;
  for (int j = 0; j < rows; ++j)
    for (int i = 0; i < columns; ++i) known.push_back(map.level.plane()(i, j));
  const auto valid = math::drop_nan(known);
  if (valid.empty()) return Error(Code::kTooFew, "the frame holds no usable pixel");
  // Medians over the whole mesh must not meet NaN: boxes without data take the overall value before they are mended.
  if (valid.size() < static_cast<std::size_t>(columns) * rows) {
    const float fallback = math::median(valid);
    std::vector<float> noises;
    for (int j = 0; j < rows; ++j)
      for (int i = 0; i < columns; ++i) noises.push_back(map.noise.plane()(i, j));
    const float fallback_noise = math::median(math::drop_nan(noises));
    for (int j = 0; j < rows; ++j) {
      for (int i = 0; i < columns; ++i) {
        if (!std::isnan(map.level.plane()(i, j))) continue;
        map.level.plane()(i, j) = fallback;
        map.noise.plane()(i, j) = fallback_noise;
      }
    }
  }
  mend_mesh(map);
  return map;
}

}  // namespace ng::measure
