// app/library_target.h - the files that belong to a picture of a target: its lights of all nights, and what calibrates
// them.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/reduce.h"
#include "base/result.h"
#include "store/library_index.h"

namespace ng::app {

// In order of path. Calibration frames are those of the lights' cameras, sizes and binnings; which of them fits which
// light is decided where they are matched. Lights whose headers name no target have the target store::kNoTarget.
// Errors: kNotFound (no light of that target, with the names that there are), kIo.
[[nodiscard]] Result<std::vector<store::LibraryFrame>> target_frames(const store::LibraryIndex& index,
                                                                     const std::string& target);
struct TargetFiles {
  std::vector<std::filesystem::path> frames;
  std::vector<std::filesystem::path> measures;  // that were kept of its lights, beside masters below masters/
};
// The same as files of the workspace's library. Errors also: kNotFound (no workspace), kCorrupt.
[[nodiscard]] Result<TargetFiles> target_files(const std::optional<std::filesystem::path>& workspace,
                                               const std::string& target);

// Masters of a target that are written where its library does not look: one line, with what to do; else none.
[[nodiscard]] std::vector<std::string> outside_note(const ReduceRequest& request);

}  // namespace ng::app
