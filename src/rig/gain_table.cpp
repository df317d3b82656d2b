#include "rig/gain_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace ng::rig {

Result<void> GainTable::validate() const {
  if (rows.empty())
    return Error(Code::kInvalidInput,
                 "the sensor has no gain: give gain_e_adu and read_noise_e for one setting at least");
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const GainRow& row = rows[i];
    if (!(row.gain_e_adu > 0 && row.read_noise_e > 0 && row.full_well_e.value_or(1) > 0))
      return Error(Code::kInvalidInput, fmt::format("gain setting {}: gain_e_adu, read_noise_e and full_well_e must be "
                                                    "positive",
                                                    row.setting));
    if (i > 0 && !(row.setting > rows[i - 1].setting))
      return Error(Code::kInvalidInput,
                   fmt::format("gain settings must rise, but {} follows {}", row.setting, rows[i - 1].setting));
  }
  return {};
}

Result<GainRow> GainTable::at(double setting) const {
  if (rows.empty() || !(setting >= rows.front().setting && setting <= rows.back().setting))
    return Error(Code::kInvalidInput,
                 rows.empty() ? "the sensor has no gain table"
                              : fmt::format("gain setting {} is outside the table, which goes from {} to {}", setting,
                                            rows.front().setting, rows.back().setting));
  const auto above = std::lower_bound(rows.begin(), rows.end(), setting,
                                      [](const GainRow& row, double wanted) { return row.setting < wanted; });
  if (above->setting == setting) return *above;
  const GainRow &a = *(above - 1), &b = *above;
  const double t = (setting - a.setting) / (b.setting - a.setting);
  GainRow row;
  row.setting = setting;
  row.gain_e_adu = a.gain_e_adu * std::pow(b.gain_e_adu / a.gain_e_adu, t);
  row.read_noise_e = std::lerp(a.read_noise_e, b.read_noise_e, t);
  if (a.full_well_e && b.full_well_e) row.full_well_e = std::lerp(*a.full_well_e, *b.full_well_e, t);
  return row;
}

Sensor at_gain(Sensor sensor, const GainRow& row) {
  sensor.gain_e_adu = row.gain_e_adu;
  sensor.read_noise_e = row.read_noise_e;
  if (row.full_well_e) sensor.full_well_e = *row.full_well_e;
  return sensor;
}

double dynamic_range(const Sensor& sensor) {
  return sensor.saturation_e() / sensor.read_noise_e;
}

}  // namespace ng::rig
