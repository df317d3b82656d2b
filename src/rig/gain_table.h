// rig/gain_table.h - what a camera's gain setting does: electrons per ADU, read noise, full well.
//
// Rows as measured (photon transfer) or published for the camera, at settings that rise. Between rows the logarithm of
// electrons per ADU is straight, because settings are mostly decibels or powers; read noise and full well are straight
// lines. A camera that switches its amplifier at one setting has two rows close together there.
#pragma once

#include <optional>
#include <vector>

#include "base/result.h"
#include "rig/sensor.h"

namespace ng::rig {

struct GainRow {
  double setting = 0;  // the camera's own number
  double gain_e_adu = 0;
  double read_noise_e = 0;
  std::optional<double> full_well_e;  // none: that of the sensor, or the top of the converter
};

struct GainTable {
  std::vector<GainRow> rows;

  // kInvalidInput: no row, settings that do not rise, a value that is not positive.
  [[nodiscard]] Result<void> validate() const;
  // Errors: kInvalidInput outside the table, naming its ends.
  [[nodiscard]] Result<GainRow> at(double setting) const;
};

// The sensor as it is at one row.
[[nodiscard]] Sensor at_gain(Sensor sensor, const GainRow& row);
// Largest signal over read noise (EMVA 1288): saturation / read noise, of the sensor as it stands.
[[nodiscard]] double dynamic_range(const Sensor& sensor);

}  // namespace ng::rig
