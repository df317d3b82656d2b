// app/sensor_rig.h - measured figures into rig.toml; the person's own text around them stays.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/sensor.h"
#include "base/result.h"

namespace ng::app {

// Gains (a row for each setting measured, new or changed), level of the bias and dark current. Not written: a read
// noise or full well of which only a limit is known. The old file is kept beside it, as rig.before-1.toml or the next
// number that is free; nothing is written unless the new text reads back with the new values. Fills reply.rig,
// rig_before and rig_changes. Errors: kNoMatch (the frames are of another sensor), kInvalidInput (nothing to write, or
// a file whose form has no place for it), kIo, those of open_workspace().
[[nodiscard]] Result<void> write_sensor_to_rig(const std::optional<std::filesystem::path>& workspace,
                                               SensorReply& reply);

// The text alone; changes are told as "sensor.gains 100: read_noise_e 1.5 -> 1.48".
[[nodiscard]] Result<std::string> rig_with_sensor(const std::string& text, const std::string& name,
                                                  const std::vector<SensorSetting>& settings,
                                                  std::vector<std::string>& changes);

}  // namespace ng::app
