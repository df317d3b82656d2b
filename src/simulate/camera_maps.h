// simulate/camera_maps.h - what one camera does to every frame: sensitivity, dark current and offset of each pixel,
// vignetting, dust. Made once, the same for the whole night.
#pragma once

#include <cstdint>
#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "simulate/scenario.h"

namespace ng::simulate {

struct HotPixel {
  int x = 0, y = 0;
  double rate_e_s = 0;  // whole dark current of the pixel at the temperature of the night
};
struct ColdPixel {
  int x = 0, y = 0;
  double sensitivity = 0;  // relative to its neighbours
};
// A pixel whose level hops between two values (random telegraph noise of its transistor).
struct TelegraphPixel {
  int x = 0, y = 0;
  double step_e = 0;
  double share = 0;  // of the frames that are on the upper level
};
// The shadow of a grain: a soft-edged disc, less dark in its middle.
struct DustShadow {
  double x = 0, y = 0;  // centre, pixels
  double radius_px = 0;
  double inner_px = 0;  // of the brighter middle
  double depth = 0;     // share of the light lost between the two
  int filter = -1;      // grain on that filter; -1: on the window of the camera, in every frame
};

struct CameraMaps {
  Image<float> dark_e_s;               // dark current with glow, hot pixels and scatter
  std::vector<Image<float>> response;  // by filter: pixel sensitivity x vignetting x dust; 1 without any of them
  std::vector<float> column_adu;       // added to the offset
  std::vector<HotPixel> hot;           // those above ten times the median
  std::vector<ColdPixel> cold;
  std::vector<TelegraphPixel> telegraph;  // by row
  std::vector<DustShadow> dust;
  std::vector<double> mean_response, median_response;  // by filter

  // Rows y0 ... of one frame: pixels that hop get their step, or not.
  void add_telegraph(std::uint64_t seed, std::uint32_t frame, int y0, View<float> electrons) const;
};

[[nodiscard]] Result<CameraMaps> make_camera_maps(const Scenario& scenario, const Context& ctx);

// Share of light left at a distance from the optical axis (middle of the frame) of r half-diagonals: natural
// falling-off (cos^4) has no part at these small angles, what is left is the shading of tubes and filter edges, taken
// as 1 - v (0.55 r^2 + 0.45 r^6).
[[nodiscard]] double vignetting(double loss_in_corner, double r);
// Share of light left within a dust shadow at a distance from its centre.
[[nodiscard]] double dust_transmission(const DustShadow& shadow, double distance_px);

}  // namespace ng::simulate
