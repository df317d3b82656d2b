// finish/objects_on_frame.h - which deep-sky objects a frame shows, and their outlines on it.
//
// The outline is the circle or ellipse on the sky, each of its points carried to the frame by itself, so that
// distortion and pixels that are not square bend it as they bend the picture. The catalogue gives no position angles:
// an object with two diameters is drawn as the circle of the larger one, which holds it whichever way it lies.
#pragma once

#include <span>
#include <vector>

#include "catalog/object_file.h"
#include "frame/wcs.h"

namespace ng::finish {

struct ObjectOnFrame {
  std::size_t object = 0;            // index into the objects given
  math::Point at;                    // centre, 0-based pixels; may lie a radius beyond the border
  double radius_px = 0;              // mean of the outline; 0 where the size is not known
  bool round = true;                 // false: a longer and a shorter diameter, direction unknown
  std::vector<math::Point> outline;  // closed: the last point is not the first again; empty without a size
};

// Those whose centre or outline lies on the frame, largest first.
[[nodiscard]] std::vector<ObjectOnFrame> objects_on_frame(const Wcs& wcs, int width, int height,
                                                          std::span<const catalog::SkyObject> objects);

// A circle on the sky; shorter where part of it cannot be seen from there.
[[nodiscard]] std::vector<math::Point> sky_circle(const Wcs& wcs, SkyPlace centre, double radius_rad);

}  // namespace ng::finish
