// io/picture_writer.h - finished pictures: PNG, TIFF, JPEG, each with its colour profile inside.
//
// Values are display values, 0 black to 65535 white, encoded with the sRGB curve (IEC 61966-2-1). One plane makes a
// grey picture, three (R, G, B) a colour one. Row 0 of the planes is the top of the picture. The same input makes the
// same bytes. The file appears whole or not at all (atomic_file.h).
#pragma once

#include <cstdint>
#include <filesystem>
#include <span>

#include "base/image.h"
#include "base/result.h"
#include "io/overwrite.h"

namespace ng::io {

struct PictureOptions {
  int bits = 16;          // per value in PNG and TIFF: 8 or 16; JPEG always has 8
  int jpeg_quality = 95;  // 1 to 100; colours are never subsampled (4:4:4), or small red stars would lose their colour
  Overwrite overwrite = Overwrite::kRefuse;
  bool drawing = false;  // lines, words and flat areas rather than a sky: a PNG is packed quickly
};

// The extension decides the format: .png, .tif, .tiff, .jpg, .jpeg, in any case. Errors: kInvalidInput (options, planes
// of different sizes, none), kUnsupported (another extension, a size that the format cannot hold), kExists, kNotFound,
// kIo.
[[nodiscard]] Result<void> write_picture(const std::filesystem::path& path,
                                         std::span<const View<const std::uint16_t>> planes,
                                         const PictureOptions& options = {});

}  // namespace ng::io
