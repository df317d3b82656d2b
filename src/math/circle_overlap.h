// math/circle_overlap.h - area that a circle shares with a pixel, exactly.
#pragma once

namespace ng::math {

// Area (0..1) of the unit pixel centred at (dx, dy) that lies within `radius` of the origin.
[[nodiscard]] double circle_pixel_overlap(double dx, double dy, double radius);

}  // namespace ng::math
