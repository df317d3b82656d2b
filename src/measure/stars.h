// measure/stars.h - everything that is measured of one frame: sky, stars, the profile they share, quality.
//
// The image is linear. In electrons (calibrated frames) photon noise is known; in ADU it needs electrons_per_unit.
// Positions are 0-based pixels, the centre of the first pixel being (0, 0).
//
// Stars brighter than `free_shape_snr` have their own ellipse fitted; fainter ones take the frame's profile, which is
// what keeps their positions at the bound of the noise (stars_test.cpp, "CentroidsReachTheBoundBetweenSnr10And1000").
// A detection whose fit ends further than a star's width away, outside the frame, or below 3 times its error is no
// star: bumps in the wings of bright ones.
#pragma once

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/background_map.h"
#include "frame/profile.h"
#include "frame/star_list.h"
#include "measure/background.h"
#include "measure/trails.h"

namespace ng::measure {

struct MeasureOptions {
  double threshold = 5.0;           // sigma of the filtered noise
  double electrons_per_unit = 1.0;  // 0 = unknown: errors then hold the sky's noise only
  // Noise of a sum over a star over what independent pixels of the same noise would give it; more than 1 where pixels
  // were interpolated from each other.
  double noise_correlation = 1.0;
  double saturation = 1e30;  // in image units
  double free_shape_snr = 20.0;
  int max_stars = 0;    // fit only this many of the brightest detections; 0 = all
  bool trails = false;  // look for trails of satellites too
  BackgroundOptions background;
};

struct FrameMeasure {
  StarList list;
  FrameQuality quality;
  BackgroundMap background;
  Profile profile;  // median of bright stars; a guess when has_profile is false
  bool has_profile = false;
  std::vector<Trail> trails;  // where asked for
};

// A frame without stars is no error: the list is empty. Errors: kTooFew (no usable pixel), kCancelled.
[[nodiscard]] Result<FrameMeasure> measure_frame(View<const float> image, const MeasureOptions& options,
                                                 const Context& ctx);

}  // namespace ng::measure
