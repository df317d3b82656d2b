// app/sensor_dark.h - darks of one temperature: dark current, glow and hot pixels; and the law over the temperatures.
#pragma once

#include <vector>

#include "app/sensor.h"
#include "app/sensor_frames.h"
#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "diagnose/frame_stack.h"

namespace ng::app {

struct DarkGround {
  const diagnose::FrameStack& bias;
  double variance_adu2 = 0;                // temporal, of one bias frame
  std::optional<SensorFigure> gain_e_adu;  // without it nothing but levels can be told
};
// Hot pixels are marked in `map`. Errors: those of reading, kTooFew, kCancelled.
[[nodiscard]] Result<void> put_dark(std::vector<InputFrame>& frames, const std::vector<SensorStep>& steps,
                                    const DarkGround& ground, View<std::uint8_t> map, SensorTemperature& t,
                                    const Context& ctx);
void put_law(SensorSetting& figures);

}  // namespace ng::app
