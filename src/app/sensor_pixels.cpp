#include "app/sensor_pixels.h"

#include <algorithm>
#include <cmath>

#include "math/robust.h"

namespace ng::app {
namespace {

constexpr int kLevelRows = 24;       // that tell the level of a flat
constexpr double kSameLevel = 0.15;  // two flats further apart are no pair

Result<double> level_of(InputFrame& frame) {
  const FrameFacts& facts = frame.facts();
  Image<float> row(facts.width, 1);
  std::vector<float> values;
  for (int i = 0; i < kLevelRows; ++i) {
    NG_CHECK(frame.source->read_rows(0, static_cast<int>((i + 0.5) * facts.height / kLevelRows), row.plane())
                 .in(frame.path.string()));
    for (int x = 0; x < facts.width; x += 3) values.push_back(row.plane()(x, 0));
  }
  const auto finite = math::drop_nan(values);
  if (finite.empty()) return 0.0;
  return static_cast<double>(math::median(finite));
}

}  // namespace

Result<SensorPixels> read_pixels(InputFrame& frame) {
  SensorPixels pixels;
  auto read = read_plane(*frame.source);
  if (!read.ok()) return std::move(read).error().in(frame.path.string());
  pixels.image = std::move(read).value();
  const FrameFacts& facts = frame.facts();
  Region region{0, 0, facts.width, facts.height};
  if (facts.useful_region) {
    region = intersect(region, *facts.useful_region);
    region = {region.x0 + region.x0 % 2, region.y0 + region.y0 % 2, region.width - region.x0 % 2,
              region.height - region.y0 % 2};
    if (region.width < 64 || region.height < 64) region = {0, 0, facts.width, facts.height};
  }
  pixels.view = std::as_const(pixels.image).plane().crop(region);
  return pixels;
}

Result<std::vector<FramePair>> pairs_of(std::vector<InputFrame>& frames, const std::vector<std::size_t>& members,
                                        bool lit) {
  std::vector<FramePair> pairs;
  if (!lit) {
    for (std::size_t k = 0; k + 1 < members.size(); k += 2) pairs.emplace_back(members[k], members[k + 1]);
    return pairs;
  }
  struct Level {
    double adu;
    std::size_t frame;
  };
  std::vector<Level> levels;
  for (const std::size_t i : members) {
    NG_TRY(const double adu, level_of(frames[i]));
    levels.push_back({adu, i});
  }
  const auto [least, most] =
      std::minmax_element(levels.begin(), levels.end(), [](auto a, auto b) { return a.adu < b.adu; });
  // A steady lamp: pairs in order of time, so that a slow drift of it cancels best.
  if (most->adu > (1 + kSameLevel) * least->adu)
    std::stable_sort(levels.begin(), levels.end(), [](auto a, auto b) { return a.adu < b.adu; });
  for (std::size_t k = 0; k + 1 < levels.size();) {
    if (std::fabs(levels[k + 1].adu - levels[k].adu) > kSameLevel * levels[k].adu) {
      ++k;
      continue;
    }
    pairs.emplace_back(levels[k].frame, levels[k + 1].frame);
    k += 2;
  }
  return pairs;
}

Result<diagnose::FrameStack> stack_of(std::vector<InputFrame>& frames, const std::vector<std::size_t>& members,
                                      const Context& ctx) {
  diagnose::FrameStack stack;
  for (const std::size_t i : members) {
    NG_TRY(const SensorPixels pixels, read_pixels(frames[i]));
    NG_CHECK(stack.add(pixels.view, ctx).in(frames[i].path.string()));
    ctx.advance();
  }
  return stack;
}

}  // namespace ng::app
