// io/tiff_probe.h - is a file that begins like a TIFF a picture, or a camera's raw file in TIFF clothes?
#pragma once

#include "io/byte_source.h"

namespace ng::io {

// Raw: a DNG (tag DNGVersion), a first image that is a mosaic or linear sensor data (PhotometricInterpretation 32803,
// 34892: TIFF/EP, DNG 1.4), or one that is only a thumbnail (NewSubfileType bit 0) of what hangs below it.
[[nodiscard]] bool tiff_is_camera_raw(ByteSource& bytes);

}  // namespace ng::io
