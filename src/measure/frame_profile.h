// measure/frame_profile.h - the profile that the stars of one frame share.
#pragma once

#include <span>

#include "base/image.h"
#include "frame/background_map.h"
#include "frame/profile.h"
#include "measure/detect.h"
#include "measure/profile_fit.h"

namespace ng::measure {

// Width of the stars from the area above half of their peaks, before any fit: the median over bright detections that
// look like stars rather than single hot pixels. 0 when there is none.
[[nodiscard]] double rough_fwhm(View<const float> image, const BackgroundMap& background,
                                std::span<const Detection> detections, double saturation);

struct FrameProfile {
  Profile profile;
  int stars = 0;  // that it comes from; 0: none was fit for it
};
// Median of free fits to the brightest isolated unsaturated stars: first the concentration beta, then, with beta held,
// the ellipse.
[[nodiscard]] FrameProfile frame_profile(View<const float> image, const BackgroundMap& background,
                                         std::span<const Detection> detections, const PixelNoise& noise,
                                         double fwhm_px);

// Ratio of the mean of the four neighbours to the highest pixel, above the background: near 0 for a hot pixel or a
// cosmic ray hit, about 0.45 for the sharpest stars worth the name (FWHM 1.8 px).
[[nodiscard]] double neighbour_ratio(View<const float> image, double background, int x, int y);

}  // namespace ng::measure
