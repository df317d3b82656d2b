// app/green_plane.h - what is measured of a mosaic: green at every pixel.
#pragma once

#include "base/image.h"
#include "frame/bayer.h"

namespace ng::app {

// Green pixels as they are, the others from the mean of their four green neighbours: enough to find and centre stars,
// whose light it broadens a little.
[[nodiscard]] Image<float> green_plane(View<const float> mosaic, BayerPattern pattern);

// Highest value of a raw frame, if at least 8 pixels share it: the converter or the sensor was full there. Otherwise 0.
[[nodiscard]] float full_level(View<const float> raw);

}  // namespace ng::app
