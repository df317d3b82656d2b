// rig/rig.h - everything that stands on the mount, as the person describes it. Values only.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "rig/filter.h"
#include "rig/gain_table.h"
#include "rig/guide_optics.h"
#include "rig/mount.h"
#include "rig/optics.h"
#include "rig/power.h"
#include "rig/sensor.h"

namespace ng::rig {

struct Cooler {
  double temperature_c = -10;  // at which this person uses the sensor
  double largest_drop_c = 35;  // below the air that it reaches
};

struct Rig {
  std::string name;
  Optics optics;
  Sensor sensor;  // at the gain setting in use
  GainTable gains;
  double gain_setting = 0;  // in use
  Cooler cooler;
  std::vector<Filter> filters;
  std::optional<GuideOptics> guide;
  Mount mount;
  Timing timing;
  std::optional<Power> power;

  [[nodiscard]] Result<void> validate() const;  // kInvalidInput
  // Angle of one pixel, and of the whole sensor: exact in the middle, 2 atan(half the side / focal length).
  [[nodiscard]] double scale_arcsec_px() const { return optics.scale_arcsec_px(sensor.pixel_um); }
  [[nodiscard]] double field_width_deg() const;
  [[nodiscard]] double field_height_deg() const;
  // Errors: kNotFound, with the list and the nearest name.
  [[nodiscard]] Result<Filter> filter(const std::string& name) const;
};

// Full angle of a side seen through a focal length: 2 atan(side / 2f), in degrees.
[[nodiscard]] double field_deg(double side_mm, double focal_length_mm);

}  // namespace ng::rig
