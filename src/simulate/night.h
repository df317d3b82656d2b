// simulate/night.h - a rehearsed night: everything that is true of it, and its frames.
//
// prepare() fixes sky, camera and plan; the frames are then rendered one by one, in any order, from several threads at
// once. Same scenario and same catalogue: the same values for any number of threads, since every random number depends
// on the seed and its place alone.
//
// The pixel of a light, in electrons: Poisson of
//   t (sky + transparency x (stars + nebula)) x response + t x dark      [response: camera_maps.h]
// plus cosmic rays, cut at the full well, plus read noise; then divided by the gain, offset and column offset added,
// rounded, cut at the ends of the converter.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "catalog/star_file.h"
#include "frame/facts.h"
#include "simulate/bands.h"
#include "simulate/camera_maps.h"
#include "simulate/intruders.h"
#include "simulate/night_plan.h"
#include "simulate/spline_grid.h"
#include "simulate/star_field.h"

namespace ng::simulate {

// Takes the rows y0, y0 + 1, ... of a frame, from the top down.
using RowSink = std::function<Result<void>(int y0, View<const std::uint16_t> rows)>;
using FloatRowSink = std::function<Result<void>(int y0, View<const float> rows)>;

// What is true of one light beyond its plan.
struct LightTruth {
  std::vector<double> transparency;  // by channel: share of starlight relative to airmass 1 in clear air
  std::vector<double> sky_e;         // by channel: sky per pixel in the middle of the frame, before vignetting
  double dark_e = 0;                 // of the ordinary pixel
  std::vector<double> noise_e;       // by channel: standard deviation of a sky pixel in the middle
  std::vector<CosmicRay> cosmic_rays;
  std::vector<SatelliteTrail> satellites;
};

class Night {
 public:
  // `catalogue` may be null: all stars are drawn then. Errors: kInvalidInput (Scenario::validate(), target too low),
  // kCancelled.
  [[nodiscard]] static Result<Night> prepare(const Scenario& scenario, const catalog::StarFile* catalogue,
                                             const Context& ctx);

  [[nodiscard]] const Scenario& scenario() const { return scenario_; }
  [[nodiscard]] const std::vector<LightPlan>& lights() const { return lights_; }
  [[nodiscard]] const std::vector<FieldStar>& stars() const { return stars_; }
  [[nodiscard]] const std::vector<std::vector<BandChannel>>& bands() const { return bands_; }
  [[nodiscard]] const CameraMaps& camera() const { return camera_; }

  // Nebula at a place of the sky plane, electrons per second and pixel at airmass 1 in clear air.
  [[nodiscard]] double nebula_e_s(int filter, int channel, double xi_arcsec, double eta_arcsec) const;
  [[nodiscard]] LightTruth light_truth(int light) const;
  // Mean electrons of a flat at full illumination, apart from its own small change of lamp level.
  [[nodiscard]] double flat_level_e() const;
  [[nodiscard]] double flat_level_e(int number) const;  // of one of a ladder

  [[nodiscard]] Result<void> render_light(int light, const Context& ctx, const RowSink& sink) const;
  // kDark, kFlat, kBias or kDarkFlat; `filter` counts for flats only; `number` from 1.
  [[nodiscard]] Result<void> render_calibration(FrameKind kind, int filter, int number, const Context& ctx,
                                                const RowSink& sink) const;
  // Stars and nebula alone on the grid of a light, without any noise: electrons in one sub-exposure at airmass 1 in
  // clear air, with the light's own star profile. Mosaic sensors: through the dye of each pixel.
  [[nodiscard]] Result<void> render_truth(int light, const Context& ctx, const FloatRowSink& sink) const;

 private:
  struct Painted;  // the stars of one light, sorted into bands of rows

  Night() = default;
  [[nodiscard]] Painted paint_stars(int light, bool with_air) const;
  void add_sources(const Painted& painted, int light, int y0, View<float> rows) const;
  [[nodiscard]] int channel_at(int x, int y) const;
  // From expected electrons (light and dark) to stored values.
  void expose(std::uint32_t frame, int y0, View<const float> expected, const std::vector<CosmicRay>& hits,
              View<std::uint16_t> out) const;

  Scenario scenario_;
  std::vector<LightPlan> lights_;
  std::vector<std::vector<BandChannel>> bands_;
  std::vector<FieldStar> stars_;
  CameraMaps camera_;
  std::vector<std::vector<SplineGrid>> nebula_;  // by filter and channel, electrons per second and pixel
};

}  // namespace ng::simulate
