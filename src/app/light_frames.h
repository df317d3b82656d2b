// app/light_frames.h - the lights of a reduction, and how each is calibrated and measured.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "app/calibration_set.h"
#include "app/input_frames.h"
#include "math/plane_map.h"
#include "measure/stars.h"
#include "reduce/single/star_colours.h"
#include "reduce/stack/integrate.h"
#include "reduce/stack/register.h"

namespace ng::app {

// Measured over predicted noise beyond which the prediction is not believed: crowded fields measure some 15 % more.
inline constexpr double kBelievedNoiseRatio = 1.3;

struct Light {
  InputFrame* input = nullptr;
  LightCalibration calibration;
  std::optional<BayerPattern> bayer;
  int planes = 1;  // of the master that it goes into
  std::string filter;

  StarList stars;
  FrameQuality quality;
  Profile profile;                   // typical, of the frame's stars
  reduce::StarColours star_colours;  // of a mosaic
  double saturation = 0;             // of a calibrated pixel, in the units of the stars; 0: unknown
  std::vector<measure::Trail> trails;
  Image<std::uint8_t> thumbnail;
  std::string measure_key;                  // what these follow from (measure_store.h)
  std::array<BackgroundMap, 3> background;  // per plane of the master
  std::array<float, 3> noise{};             // of one pixel of bare sky, the usual value
  std::array<bool, 3> noise_measured{};     // in the light alone: nothing predicts it
  std::array<Image<float>, 3> variance;     // of one pixel, per box of `background`
  double noise_ratio = 0;                   // measured over predicted; 0 where nothing could be predicted

  bool registered = false;
  reduce::Registration registration;
  math::PlaneMap to_master;
  int panel = 0;          // of a mosaic of panels (light_panels.h)
  double pixel_area = 1;  // of a master pixel, in pixels of this frame
  std::array<reduce::PlaneScale, 3> scales;
  double transmission = 1;
  double weight = 0;   // in the mean, the largest of its group 1
  double worth = 0;    // squared signal-to-noise ratio that it has alone, relative to the best of its group
  std::string reason;  // why it is left out
  [[nodiscard]] bool accepted() const { return reason.empty(); }
  // How good a reference it makes: stars over the area of their discs.
  [[nodiscard]] double score() const;
  [[nodiscard]] math::Point centre() const { return {stars.width / 2.0, stars.height / 2.0}; }
};

// Marks defects by the lights themselves where no dark did; `store` keeps the map alive.
[[nodiscard]] Result<void> map_defects_from_lights(std::vector<Light>& lights, std::vector<Image<std::uint8_t>>& store,
                                                   const Context& ctx);

// The noise of each plane, predicted where possible; the end of measuring, and all that measures read back still need.
void settle_noise(Light& light);

// Reads, calibrates and measures one light; fills everything up to `noise`. `memory` is room for its pixels, used again
// for the next: fresh memory for every frame would cost more than reading it.
[[nodiscard]] Result<void> measure_light(Light& light, Image<float>& memory, const Context& ctx);

}  // namespace ng::app
