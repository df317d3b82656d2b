// simulate/intruders.h - what crosses a frame uninvited: cosmic rays and a satellite.
#pragma once

#include <cstdint>
#include <vector>

#include "base/image.h"
#include "simulate/night_plan.h"
#include "simulate/scenario.h"

namespace ng::simulate {

// A straight track through the silicon, laid down evenly along its length.
struct CosmicRay {
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;  // pixels
  double electrons = 0;                   // in all
};
// Hits of one frame: rate x area x time of them. Lengths fall off exponentially with a mean of 7 pixels, most are
// short; charge about 80 electrons per micrometre of track in at least 15 micrometres of silicon (a particle that just
// ionises; common practice), scattered log-normally.
[[nodiscard]] std::vector<CosmicRay> draw_cosmic_rays(const Scenario& scenario, std::uint32_t frame, double seconds);
// Adds what falls into rows y0, y0 + 1, ...
void add_cosmic_rays(const std::vector<CosmicRay>& hits, int y0, View<float> electrons);

// A straight line across the frame with a Gaussian cross-section.
struct SatelliteTrail {
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;  // two points of its axis, pixels
  double sigma_px = 0;
  double peak_e = 0;  // on the axis
};
// `sky_e` is the sky of one pixel in the frame.
[[nodiscard]] SatelliteTrail draw_satellite(const Scenario& scenario, const LightPlan& light, double sky_e);
void add_satellite(const SatelliteTrail& trail, int y0, View<float> electrons);

}  // namespace ng::simulate
