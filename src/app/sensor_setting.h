// app/sensor_setting.h - one setting of a camera measured: frames in, figures out.
#pragma once

#include "app/sensor.h"
#include "app/sensor_frames.h"
#include "base/image.h"

namespace ng::app {

struct MeasuredSetting {
  SensorSetting figures;
  Image<std::uint8_t> defects;  // bits of diagnose/pixel_defects.h
};

// Errors: those of reading; kTooFew where the frames allow no figure at all.
[[nodiscard]] Result<MeasuredSetting> measure_setting(std::vector<InputFrame>& frames, const SensorGroup& group,
                                                      const SensorRequest& request, const Context& ctx);

}  // namespace ng::app
