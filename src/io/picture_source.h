// io/picture_source.h - TIFF and PNG files as frames.
//
// Values come as stored, whatever curve they were encoded with; a colour profile in the file, or 8-bit values, raise a
// warning that they may not be linear. Rows come in the order in which they are stored. The files state no facts of
// the night: the kind of frame is taken from words of the file name, with a warning.
#pragma once

#include <filesystem>
#include <memory>

#include "base/result.h"
#include "frame/source.h"
#include "io/byte_source.h"

namespace ng::io {

// TIFF 6.0 and BigTIFF: 8- and 16-bit integers, 32-bit integers, 32- and 64-bit floats; strips or tiles, any
// compression that libtiff reads; one sample per pixel or three (further ones, such as alpha, are left out with a
// warning). One strip or row of tiles is held in memory. Errors: kCorrupt, kUnsupported (palette, sub-sampled or mosaic
// pictures), kIo.
[[nodiscard]] Result<std::unique_ptr<FrameSource>> open_tiff(const std::filesystem::path& path,
                                                             std::unique_ptr<ByteSource> bytes);

// PNG (ISO/IEC 15948): grey or colour of 8 or 16 bits, alpha left out with a warning. PNG has no random access: the
// whole picture is unpacked at the first read and kept. Errors: kCorrupt, kUnsupported (palette, fewer than 8 bits),
// kIo.
[[nodiscard]] Result<std::unique_ptr<FrameSource>> open_png(const std::filesystem::path& path,
                                                            std::unique_ptr<ByteSource> bytes);

// Facts that any picture has: size, kind by file name. Errors: kUnsupported when it is larger than a frame can be,
// kCorrupt when so many pixels cannot be packed into so few bytes.
[[nodiscard]] Result<FrameFacts> picture_facts(const std::filesystem::path& path, std::int64_t width,
                                               std::int64_t height, int planes, std::uint64_t file_bytes);

}  // namespace ng::io
