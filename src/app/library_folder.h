// app/library_folder.h - the library of a workspace on disk: frames/ and library.db, and who may write.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/local_time.h"
#include "base/result.h"
#include "frame/facts.h"
#include "io/file_descriptor.h"
#include "store/library_index.h"

namespace ng::app {

struct LibraryFolder {
  std::filesystem::path workspace, frames, index;
  std::string time_zone;  // of the site
};
// Makes frames/ when it is missing. Errors: those of open_workspace(), kIo.
[[nodiscard]] Result<LibraryFolder> find_library(const std::optional<std::filesystem::path>& workspace);

// Held until destroyed, released by the system when the program ends in any way. Takes away the temporary files that a
// killed program left. Errors: kIo (another one writes now, or no permission).
[[nodiscard]] Result<io::FileDescriptor> lock_library(const LibraryFolder& library);

// Regular files below a folder in order of path, without hidden ones. Links to folders are not followed.
[[nodiscard]] std::vector<std::filesystem::path> files_below(const std::filesystem::path& folder);

// Whether one folder is the other or lies in it.
[[nodiscard]] bool one_inside_other(const std::filesystem::path& a, const std::filesystem::path& b);

// Whether the disk of `folder` has room for so many bytes, and some to spare. Errors: kIo, with both figures.
[[nodiscard]] Result<void> check_room(const std::filesystem::path& folder, std::int64_t bytes);

// What the library keeps of a header; path and hash stay empty. The night is the local date 12 hours before the start.
[[nodiscard]] store::LibraryFrame frame_of(const FrameFacts& facts, std::int64_t bytes, const LocalZone& zone);

}  // namespace ng::app
