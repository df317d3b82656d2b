// app/folder_walk.h - the files of a night's folder, links to other directories followed.
#pragma once

#include <filesystem>
#include <vector>

namespace ng::app {

// All regular files below `folder`, and links to such, sorted; nothing of `skip` and below (may be empty). Links to
// directories are followed after all real ones, so that a file has its own path before any other. A directory is
// entered once, whatever ways lead to it, and a link upwards, to a directory that holds the link or `folder`, never.
[[nodiscard]] std::vector<std::filesystem::path> files_of_night(const std::filesystem::path& folder,
                                                                const std::filesystem::path& skip);

}  // namespace ng::app
