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

// Keeps what a file was before it is changed: beside it as NAME.before-1.EXT, or the next number that is free; where
// one of them holds this text already, that one is it. Errors: those of read_text() and write_text().
[[nodiscard]] Result<std::filesystem::path> keep_before(const std::filesystem::path& path, const std::string& text);

}  // namespace ng::app
