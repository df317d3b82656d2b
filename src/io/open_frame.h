// io/open_frame.h - any file that holds a frame, recognised by content, as a FrameSource.
//
// FITS (integer 8/16/32 bit with BZERO, float 32/64; two-dimensional or three planes; plain, gzip, or tile-compressed
// with Rice, gzip, in the primary or the first image extension), camera raw (undemosaiced, with black level and
// pattern), TIFF and PNG (8/16 bit, TIFF also float; one or three planes).
#pragma once

#include <filesystem>
#include <memory>

#include "base/result.h"
#include "frame/source.h"

namespace ng::io {

// Errors: kNotFound, kIo, kCorrupt (truncated or damaged), kUnsupported (not a frame: said with what the file seems to
// be).
[[nodiscard]] Result<std::unique_ptr<FrameSource>> open_frame(const std::filesystem::path& path);

}  // namespace ng::io
