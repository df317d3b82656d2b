// io/icc_profile.h - the colour profiles that pictures carry: sRGB, and grey with the same tone curve.
//
// ICC.1:2010 (ISO 15076-1) profiles built by lcms2; primaries, white and curve of IEC 61966-2-1. The creation date is
// fixed, so that the same picture has the same bytes on any day.
#pragma once

#include <cstddef>
#include <vector>

namespace ng::io {

[[nodiscard]] std::vector<unsigned char> srgb_profile();
[[nodiscard]] std::vector<unsigned char> srgb_grey_profile();

}  // namespace ng::io
