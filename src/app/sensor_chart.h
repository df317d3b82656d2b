// app/sensor_chart.h - a measured camera on one sheet: photon transfer, linearity, gains, dark current.
#pragma once

#include <filesystem>

#include "app/sensor.h"
#include "base/result.h"
#include "io/overwrite.h"

namespace ng::app {

// Draws what the reply holds, nothing else. Errors: those of io::Canvas.
[[nodiscard]] Result<void> draw_sensor_chart(const SensorReply& reply, const std::filesystem::path& path,
                                             io::Overwrite overwrite);

}  // namespace ng::app
