// app/sensor_verdict.h - which gain and which temperature, and why, from the figures alone.
//
// Gain: the room between the shortest sub-exposure that read noise allows (it goes with its square, rig/signal.h) and
// the longest that saturation allows goes with full well / read noise^2: the most room is the advice, as in
// plan/exposure.h. Temperature: in a sub-exposure just long enough that read noise adds 5 %, dark current may add 2 %
// to the noise: D t <= R^2 (1.02^2 - 1) (1 + 1 / (1.05^2 - 1)).
#pragma once

#include "app/sensor.h"

namespace ng::app {

[[nodiscard]] SensorVerdict sensor_verdict(const std::vector<SensorSetting>& settings, double sub_s);

}  // namespace ng::app
