// A night small enough for tests, and helpers to take its frames into memory.
#pragma once

#include <gtest/gtest.h>

#include "simulate/night.h"

namespace ng::simulate {

inline Scenario small_scenario(int width = 320, int height = 240) {
  Scenario s = built_in_scenario(NightSize::kLarge);
  s.camera.sensor.width = width;
  s.camera.sensor.height = height;
  s.filters[0].lights = 6;
  s.mount.dither_px = 12;
  s.target.field_stars_per_deg2 = 1500;
  return s;
}

inline Image<std::uint16_t> take_light(const Night& night, int light) {
  const rig::Sensor& sensor = night.scenario().camera.sensor;
  Image<std::uint16_t> frame(sensor.width, sensor.height);
  const auto done = night.render_light(light, {}, [&](int y0, View<const std::uint16_t> rows) -> Result<void> {
    for (int y = 0; y < rows.height; ++y) std::copy_n(rows.row(y), rows.width, frame.plane().row(y0 + y));
    return {};
  });
  EXPECT_TRUE(done.ok());
  return frame;
}

inline Image<std::uint16_t> take_calibration(const Night& night, FrameKind kind, int number) {
  const rig::Sensor& sensor = night.scenario().camera.sensor;
  Image<std::uint16_t> frame(sensor.width, sensor.height);
  const auto done =
      night.render_calibration(kind, 0, number, {}, [&](int y0, View<const std::uint16_t> rows) -> Result<void> {
        for (int y = 0; y < rows.height; ++y) std::copy_n(rows.row(y), rows.width, frame.plane().row(y0 + y));
        return {};
      });
  EXPECT_TRUE(done.ok());
  return frame;
}

inline Image<float> take_truth(const Night& night, int light) {
  const rig::Sensor& sensor = night.scenario().camera.sensor;
  Image<float> frame(sensor.width, sensor.height);
  const auto done = night.render_truth(light, {}, [&](int y0, View<const float> rows) -> Result<void> {
    for (int y = 0; y < rows.height; ++y) std::copy_n(rows.row(y), rows.width, frame.plane().row(y0 + y));
    return {};
  });
  EXPECT_TRUE(done.ok());
  return frame;
}

}  // namespace ng::simulate
