// finish/brightness.h - three channels as brightness and colour differences, and back.
//
// Brightness I = (R + G + B) / 3 (as Lupton et al. 2004, PASP 116, 133, take it); differences dR = R - I, dB = B - I;
// the third follows, dG = -dR - dB. Noise reduction can then be gentle with brightness and firm with colour. A
// luminance frame of its own (the L of LRGB) takes the place of I, and the differences follow it in proportion.
#pragma once

#include <array>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"

namespace ng::finish {

// In place: R -> dR, G -> I, B -> dB. Errors: kCancelled (here and below).
[[nodiscard]] Result<void> to_brightness(std::array<View<float>, 3> rgb, const Context& ctx);
// Variances of the three channels -> variances of dR, I, dB, for independent channels.
[[nodiscard]] Result<void> to_brightness_variance(std::array<View<float>, 3> rgb, const Context& ctx);
// In place: dR, I, dB -> R, G, B.
[[nodiscard]] Result<void> from_brightness(std::array<View<float>, 3> planes, const Context& ctx);

// The factor that brings a luminance frame to the scale of a brightness: median, weighted by light, of the ratio of
// means over blocks of 16 x 16 pixels that are bright (more than 2 sigma of a pixel), so that neither different seeing
// nor a few saturated stars count. 1 when there are none.
[[nodiscard]] double luminance_factor(View<const float> luminance, View<const float> brightness);

// Replaces brightness by luminance and lets colour follow it: d' = d (L + floor) / (I + floor), with I at least 0. The
// noise of I and d should be reduced before. `floor` (a few times what noise is left) keeps the ratio near 1 where
// there is only noise. The ratio is limited to 8: the core of a star that is sharper in L must not blaze.
[[nodiscard]] Result<void> follow_luminance(std::array<View<float>, 3> planes, View<const float> luminance,
                                            double floor, const Context& ctx);

}  // namespace ng::finish
