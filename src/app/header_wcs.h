// app/header_wcs.h - where an image lies on the sky, as its file says.
#pragma once

#include <filesystem>

#include "base/result.h"
#include "frame/wcs.h"

namespace ng::app {

// Errors: kNotFound, kIo, kCorrupt, kUnsupported (no FITS file), kNoMatch (no TAN solution in the header).
[[nodiscard]] Result<Wcs> header_wcs(const std::filesystem::path& file);

// The same; of a finished picture, the place of the masters that its recipe names, cut as the picture is.
[[nodiscard]] Result<Wcs> picture_wcs(const std::filesystem::path& file);

}  // namespace ng::app
