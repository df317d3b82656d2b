// app/shelf_cost.h - what darks that are missing, few or of another temperature cost, by the noise model of
// rig/signal.h.
//
// A stack of N lights that are not dithered has the variance V / N + V_dark / n with n darks; V_dark = D t + R^2 + g^2
// / 12. A dark of another temperature or exposure leaves D t - D' t' in the usual pixel, ten times as much in one ten
// times as hot.
#pragma once

#include <string>

#include "rig/sensor.h"

namespace ng::app {

struct SubNoise {
  double variance_e2 = 0;  // of one light, sky and all
  double subs = 1;         // lights in the stack
};

[[nodiscard]] std::string cost_of_count(const rig::Sensor& sensor, double seconds, double celsius, int have, int wanted,
                                        const SubNoise& light);
// Darks of another temperature or exposure in place of the right ones.
[[nodiscard]] std::string cost_of_others(const rig::Sensor& sensor, double seconds, double celsius, double dark_seconds,
                                         double dark_celsius, const SubNoise& light);
// Factor of the noise of the stack, above 1.
[[nodiscard]] double noise_factor(const rig::Sensor& sensor, double seconds, double celsius, int darks,
                                  const SubNoise& light);

}  // namespace ng::app
