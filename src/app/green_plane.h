// app/green_plane.h - what is measured of a mosaic: green at every pixel.
#pragma once

#include "base/image.h"
#include "frame/bayer.h"

namespace ng::app {

// Green pixels as they are, the others from the mean of their four green neighbours: enough to find and centre stars,
// whose light it broadens a little.
[[nodiscard]] Image<float> green_plane(View<const float> mosaic, BayerPattern pattern);

// In it every green pixel counts twice, once by itself and once through its four neighbours: a sum over a star has
// sqrt(2) times the noise of as many independent green pixels. The robust noise of the picture, half of whose pixels
// are means of four, is 0.685 of that of a green pixel (median of |x| over the mixture of two Gaussians); the quotient
// is what a measurement must be told (measure::MeasureOptions). Photons count twice as well.
inline constexpr double kGreenNoiseCorrelation = 1.41421356 / 0.685;
inline constexpr double kGreenElectronShare = 0.5;

}  // namespace ng::app
