// app/export_list.h - export.json: what lies in an export.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "app/library_export.h"
#include "base/result.h"

namespace ng::app {

// What is said of a file that changed since it was exported.
inline constexpr const char* kNotWhatItWas = "its content is not what its export says: export it again";

struct ExportEntry {
  std::string path;  // in the export, with slashes, UTF-8; begins with its part: "frames/", "masters/", ...
  std::string hash;  // XXH3-128, 32 hexadecimal digits
  std::int64_t bytes = 0;
};
struct ExportList {
  std::string target;
  std::vector<ExportEntry> files;
  [[nodiscard]] ExportCounts counts() const;
};

// Errors: kNotFound (no export), kCorrupt (not what an export holds; a path that leads out of it), kUnsupported.
[[nodiscard]] Result<ExportList> read_export(const std::filesystem::path& folder);
// checksums.txt, then export.json; both are replaced. Errors: kIo.
[[nodiscard]] Result<void> write_export(const std::filesystem::path& folder, const ExportList& list);

}  // namespace ng::app
