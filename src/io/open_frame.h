// io/open_frame.h - any file that holds a frame, recognised by content, as a FrameSource.
//
// FITS (integer 8 to 64 bit with BZERO, BSCALE and BLANK, float 32/64; two-dimensional or three planes; plain, inside
// gzip, or tile-compressed with Rice, gzip or PLIO; in the primary or the first image extension; with a bad-pixel
// mask), camera raw and DNG (undemosaiced, with black level and pattern), TIFF and PNG (8/16 bit, TIFF also 32 bit and
// float; one or three planes). The name of a file is only a name: its extension decides nothing.
//
// An open FITS or picture file costs no descriptor, so thousands may be open at once; unpacked camera raw and PNG lie
// in scratch files (scratch_file.h), one descriptor each.
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
