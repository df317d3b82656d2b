// app/recorded_path.h - files that recipes name: where they lie now, should the workspace have moved since.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

namespace ng::app {

// The path below `workspace` of a file that was recorded as `recorded`: itself, where it lies there; else what follows
// its last folder frames/ or masters/, where the workspace has such a file. Nothing where there is none.
[[nodiscard]] std::optional<std::filesystem::path> recorded_path(const std::filesystem::path& workspace,
                                                                 const std::string& recorded);

}  // namespace ng::app
