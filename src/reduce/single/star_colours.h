// reduce/single/star_colours.h - how bright a usual star of a mosaic's frame is in red and in blue, beside green.
#pragma once

#include <array>

#include "base/image.h"
#include "frame/background_map.h"
#include "frame/bayer.h"
#include "frame/star_list.h"

namespace ng::reduce {

// Light of a usual star in each colour over that in green, per pixel of the colour; 0: too few stars to tell.
struct StarColours {
  double red = 0, blue = 0;
  double green_rows = 0;  // light in green between red pixels over that between blue ones: 1
};

// True where what a frame takes for its two greens sees stars differently by more than a tenth, while its red and blue
// agree far better: the greens are red and blue then, and the pattern is one pixel off.
[[nodiscard]] bool pattern_is_off(const StarColours& colours);

// Medians over the stars without a flag and of signal to noise above 20, light being summed over whole 2 x 2 cells
// within about `radius_px`. `background` holds one map per colour. At least five such stars are asked for.
[[nodiscard]] StarColours star_colours(View<const float> mosaic, BayerPattern pattern,
                                       const std::array<BackgroundMap, 3>& background, const StarList& list,
                                       double radius_px);

}  // namespace ng::reduce
