// app/master_paths.h - where the masters of a reduction go, and what goes beside them.
#pragma once

#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "app/light_frames.h"
#include "app/reduce.h"
#include "base/result.h"
#include "io/overwrite.h"

namespace ng::app {

// Lights that make one master: one filter, one number of colours.
using GroupKey = std::pair<std::string, int>;

// Of a group of lights: the object that most of all `lights` name, and the filter.
[[nodiscard]] std::filesystem::path master_path(const std::filesystem::path& folder, const std::vector<Light>& lights,
                                                const GroupKey& group);
[[nodiscard]] std::filesystem::path measures_path(std::filesystem::path master);
[[nodiscard]] std::filesystem::path frames_sheet_path(std::filesystem::path master);

// Adding replaces the masters by fuller ones.
[[nodiscard]] io::Overwrite overwrite_of(const ReduceRequest& request);

// Before any work, for hours later is too late to say it. Errors: kInvalidInput (masters would go among the frames).
[[nodiscard]] Result<void> refuse_frames_folder(const ReduceRequest& request);

// Makes the folder for these masters. Errors: kExists (one is there, without leave to replace it), kIo.
[[nodiscard]] Result<void> prepare_folder(const ReduceRequest& request,
                                          const std::vector<std::filesystem::path>& masters);

}  // namespace ng::app
