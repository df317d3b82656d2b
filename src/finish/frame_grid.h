// finish/frame_grid.h - lines of right ascension and declination over a frame, a scale bar, north and east: geometry.
//
// All places are 0-based pixels; every point of a line lies on the frame, its ends on the border or where the line
// ends. Steps are those that people read: 1, 2, 5, 10, 20, 30 seconds, minutes, degrees; of right ascension in time.
#pragma once

#include <string>
#include <vector>

#include "frame/wcs.h"

namespace ng::finish {

struct GridLine {
  bool meridian = false;  // of one right ascension; else of one declination
  double value_deg = 0;
  std::string label;                             // "5h 20m", "-1° 10'"
  std::vector<std::vector<math::Point>> pieces;  // where it crosses the frame more than once
};

struct ScaleBar {
  double length_rad = 0;
  double length_px = 0;  // in the middle of the frame
  std::string label;     // "10'"
};

// Unit vectors in pixels in the middle of the frame.
struct SkyDirections {
  math::Point north, east;
};

struct FrameGrid {
  std::vector<GridLine> lines;
  ScaleBar scale;
  SkyDirections directions;
};

[[nodiscard]] FrameGrid frame_grid(const Wcs& wcs, int width, int height);

}  // namespace ng::finish
