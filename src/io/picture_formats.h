// io/picture_formats.h - one writer per format behind write_picture(). Planes and options are checked there.
#pragma once

#include "io/atomic_file.h"
#include "io/picture_writer.h"

namespace ng::io {

using PicturePlanes = std::span<const View<const std::uint16_t>>;

[[nodiscard]] Result<void> write_png(AtomicFile& file, PicturePlanes planes, const PictureOptions& options);
[[nodiscard]] Result<void> write_tiff(AtomicFile& file, PicturePlanes planes, const PictureOptions& options);
[[nodiscard]] Result<void> write_jpeg(AtomicFile& file, PicturePlanes planes, const PictureOptions& options);

// Row y of all planes, pixel by pixel, as these formats want it: 16 bits in the order of this machine, or rounded to 8.
void interleave_row(PicturePlanes planes, int y, std::uint16_t* out);
void interleave_row(PicturePlanes planes, int y, std::uint8_t* out);

}  // namespace ng::io
