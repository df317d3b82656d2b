// reduce/stack/spectrum_profile.h - widths of a profile that is known by its transform.
#pragma once

#include "base/image.h"

namespace ng::reduce {

struct ProfileSize {
  double fwhm_px = 0;        // geometric mean over four directions
  double noise_area_px = 0;  // 1 / integral of the square (King 1983, PASP 95, 163)
};

// `half`: the real, symmetric transform on a tile of half.height() pixels, columns 0 ... side / 2, 1 at k = 0.
[[nodiscard]] ProfileSize profile_size(const Image<float>& half);

}  // namespace ng::reduce
