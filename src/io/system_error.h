// io/system_error.h - what the operating system refused, as a sentence for a person.
#pragma once

#include <filesystem>
#include <string>

#include "base/result.h"

namespace ng::io {

// `doing` begins the sentence: "cannot write 'x.fits'". ENOENT becomes kNotFound, EEXIST kExists, all others kIo.
[[nodiscard]] Error system_error(const std::string& doing, int error_number);

// 'name' in quotes, for sentences.
[[nodiscard]] std::string quoted(const std::filesystem::path& path);

}  // namespace ng::io
