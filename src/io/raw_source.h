// io/raw_source.h - raw files of DSLR and mirrorless cameras, and DNG, as frames: the mosaic as the sensor gave it.
//
// Decoded by LibRaw, not developed: the visible area, unscaled, undemosaiced, rows as stored (the camera's idea of up
// is ignored). Facts: the Bayer pattern of the first visible row; the black level (constant, per channel and per cell,
// as LibRaw finds it in the file or in the masked pixels); the white level as saturation; exposure, ISO as gain
// setting, focal length, aperture, sensor temperature where the maker's notes have it, camera. The camera's clock
// states no zone: its time is taken as UTC, with a warning.
//
// A raw file has no random access: its pixels are unpacked once, at the first read, into a scratch file.
#pragma once

#include <filesystem>
#include <memory>

#include "base/result.h"
#include "frame/source.h"

namespace ng::io {

// Errors: kUnsupported (not a raw file, a mosaic other than Bayer, layered sensors, already demosaiced), kCorrupt, kIo.
[[nodiscard]] Result<std::unique_ptr<FrameSource>> open_raw(const std::filesystem::path& path);

}  // namespace ng::io
