// astrometry/frame_map.h - from the pixels of one solved frame to those of another: registration without common stars.
//
// Two tangent planes without distortion are related by a homography, exactly: each pixel is a ray, K the matrix that
// makes rays of pixels, R the turn from one tangent basis to the other; H = K_to^-1 R K_from. Where lenses distort, the
// homography is the best one over what both frames show, and says how far it is off; carry() is exact always.
#pragma once

#include <optional>

#include "base/result.h"
#include "frame/wcs.h"
#include "math/transform.h"

namespace ng::astrometry {

struct FrameMap {
  math::Homography homography;  // pixels of the one to pixels of the other, 0-based
  double worst_px = 0;          // in pixels of the other: farthest from exact, over the part that both show
  double overlap_share = 0;     // of the first frame's area that the other shows too
};

struct FrameSize {
  int width = 0, height = 0;
};

// Where the other frame has what this one shows at a pixel; nothing where it lies 90 degrees or more from it.
[[nodiscard]] std::optional<math::Point> carry(const Wcs& from, const Wcs& to, math::Point pixel);

// Where the frames share nothing, the homography is the best one over the whole first frame. Errors: kNoMatch (part of
// the first frame lies 90 degrees or more from the other's reference: no plane holds both).
[[nodiscard]] Result<FrameMap> frame_map(const Wcs& from, FrameSize from_size, const Wcs& to, FrameSize to_size);

}  // namespace ng::astrometry
