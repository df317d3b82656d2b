// io/fits_source.h - a FITS file as a FrameSource. What is read, and how: see fits_layout.h, fits_pixels.h,
// fits_facts.h.
//
// Rows come in the order in which they are stored. The facts are those of the image's header, completed by the primary
// header. Where an extension BPM or MASK of the same size is there, its nonzero pixels are NaN.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "base/result.h"
#include "frame/source.h"
#include "io/byte_source.h"

namespace ng::io {

// `bytes` is the (unpacked) content of the file at `path`. Errors: kCorrupt, kUnsupported, kIo.
[[nodiscard]] Result<std::unique_ptr<FrameSource>> open_fits(const std::filesystem::path& path,
                                                             std::unique_ptr<ByteSource> bytes);

// The image extension with this EXTNAME, as VARIANCE or COVERAGE of a master. Errors: kNotFound (no such file or
// extension), kCorrupt, kUnsupported, kIo.
[[nodiscard]] Result<std::unique_ptr<FrameSource>> open_fits_image(const std::filesystem::path& path,
                                                                   const std::string& extension_name);

}  // namespace ng::io
