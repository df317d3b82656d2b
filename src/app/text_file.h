// app/text_file.h - a whole text file.
#pragma once

#include <filesystem>
#include <string>

#include "base/result.h"
#include "io/overwrite.h"

namespace ng::app {

// Errors: kNotFound, kIo.
[[nodiscard]] Result<std::string> read_text(const std::filesystem::path& path);
// Errors: kExists with kRefuse, kNotFound (no such folder), kIo. Never leaves half a file.
[[nodiscard]] Result<void> write_text(const std::filesystem::path& path, const std::string& text,
                                      io::Overwrite overwrite);

}  // namespace ng::app
