// io/raw_facts.h - what LibRaw found out about a file, as frame facts.
#pragma once

#include <libraw/libraw.h>

#include <array>
#include <filesystem>

#include "base/result.h"
#include "frame/facts.h"

namespace ng::io {

// Before unpacking. Errors: kUnsupported (see raw_source.h).
[[nodiscard]] Result<FrameFacts> raw_facts(LibRaw& raw, const std::filesystem::path& path);

// Black level of the pixels (0,0), (1,0), (0,1), (1,1) of the visible area.
[[nodiscard]] std::array<double, 4> black_levels(LibRaw& raw);

// LibRaw's error code as a sentence.
[[nodiscard]] Error raw_error(int code);

}  // namespace ng::io
