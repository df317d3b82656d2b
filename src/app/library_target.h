// app/library_target.h - the files that belong to a picture of a target: its lights of all nights, and what calibrates
// them.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"

namespace ng::app {

// In order of path. Calibration frames are those of the lights' cameras, sizes and binnings; which of them fits which
// light is decided where they are matched. Errors: kNotFound (no workspace; no light of that target, with the names
// that there are), kCorrupt, kIo.
[[nodiscard]] Result<std::vector<std::filesystem::path>> target_files(
    const std::optional<std::filesystem::path>& workspace, const std::string& target);

}  // namespace ng::app
