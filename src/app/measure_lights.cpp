#include "app/measure_lights.h"

#include <algorithm>
#include <atomic>

#include "app/frame_memories.h"
#include "base/parallel.h"

namespace ng::app {

Result<int> measure_lights(std::vector<Light>& lights, const MeasureStore& kept, const Context& ctx) {
  std::size_t pixels = 1;
  for (const Light& light : lights)
    pixels = std::max(pixels, static_cast<std::size_t>(light.input->facts().width) * light.input->facts().height);
  // Of each pixel: its value, a quarter at half size, and what is kept of those that stand out of the sky.
  constexpr std::size_t kBytesPerPixel = 7;
  FrameMemories memories(std::clamp<std::size_t>(ctx.memory_budget_bytes / 2 / (pixels * kBytesPerPixel), 1, 64));
  std::atomic<int> taken = 0;
  ctx.begin("measuring lights", static_cast<std::int64_t>(lights.size()));
  NG_CHECK(parallel_for(ctx, static_cast<int>(lights.size()), [&](int i) -> Result<void> {
    Light& light = lights[static_cast<std::size_t>(i)];
    if (kept.fill(light)) {
      ++taken;
      settle_noise(light);
      ctx.advance();
      return {};
    }
    Image<float> memory = memories.take();
    auto result = measure_light(light, memory, ctx.serial());
    memories.give_back(std::move(memory));
    ctx.advance();
    if (result.ok() || result.error().code() == Code::kCancelled) return result;
    light.reason = result.error().message();  // one broken frame does not stop the night
    return {};
  }));
  return taken.load();
}

}  // namespace ng::app
