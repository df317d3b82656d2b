// app/shelf_sensor.h - the sensor of tonight in numbers: as the library holds it measured, else as rig.toml states it.
//
// What was measured counts where it is of a sensor of the rig's size, not binned, at the same gain. Of each figure the
// newest is taken, limits (a read noise that rounding hides) never; of the dark current that of the temperature nearest
// to tonight's, from where the law of rig/sensor.h leads on.
#pragma once

#include <string>
#include <vector>

#include "app/library_shelf.h"
#include "app/shelf_cost.h"
#include "rig/sensor.h"
#include "store/product_records.h"

namespace ng::app {

struct MeasuredSensor {
  rig::Sensor sensor;
  ShelfSensor told;
  std::vector<std::string> notes;  // why what was measured is not taken
};

// `stated`: of rig.toml at that gain. Where several cameras of this size were measured, the one of the rig's name is
// meant; where none has it, none is taken, with a note.
[[nodiscard]] MeasuredSensor measured_sensor(const rig::Sensor& stated, double gain_setting, double celsius,
                                             const std::vector<store::SensorRecord>& results);

// Noise of a light that was reckoned with the sensor `stated`, with the sensor `measured` in its place: the sky stays.
[[nodiscard]] SubNoise with_sensor(const SubNoise& light, double seconds, double celsius, const rig::Sensor& stated,
                                   const rig::Sensor& measured);

}  // namespace ng::app
