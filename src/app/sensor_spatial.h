// app/sensor_spatial.h - how the pixels of one setting differ among each other: DSNU and PRNU into its channels.
#pragma once

#include "app/sensor.h"
#include "base/context.h"
#include "base/result.h"
#include "diagnose/frame_stack.h"

namespace ng::app {

// `variance_adu2`: temporal, of one bias frame. The gain of figures.all must be known.
[[nodiscard]] Result<void> put_dsnu(const diagnose::FrameStack& bias, double variance_adu2, SensorSetting& figures,
                                    const Context& ctx);
// `lit`: flats of one level, near half of saturation.
[[nodiscard]] Result<void> put_prnu(const diagnose::FrameStack& lit, const diagnose::FrameStack& bias,
                                    double variance_adu2, SensorSetting& figures, const Context& ctx);

}  // namespace ng::app
