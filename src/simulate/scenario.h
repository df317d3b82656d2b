// simulate/scenario.h - a night to rehearse: site, sky, target, rig and what is exposed. All of it invented except the
// sky; every number can be changed.
#pragma once

#include <algorithm>
#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "base/instant.h"
#include "base/result.h"
#include "rig/filter.h"
#include "rig/optics.h"
#include "rig/sensor.h"

namespace ng::simulate {

struct Site {
  std::string name = "Larch Hollow";
  double latitude_deg = 46.4;
  double longitude_deg = 9.3;  // east positive
  double elevation_m = 840;
  double sky_mag_arcsec2 = 21.3;  // V at the zenith, moonless
  double sky_b_minus_v = 0.93;    // dark sky: Krisciunas 1997, PASP 109, 1181
  double sky_gradient = 0.10;     // change of the sky from the middle of the field to a corner, as a share
};

struct Target {
  std::string name = "NGC 2237";
  double ra_deg = 97.98;
  double dec_deg = 4.94;
  double position_angle_deg = 4;      // of the top of the frame, from north through east, before the flip
  double nebula_rayleighs = 1800;     // H-alpha that the brightest hundredth of the nebula exceeds
  double nebula_radius_arcmin = 31;   // where the bright part ends
  int cluster_stars = 90;             // of the young cluster inside, besides those of the catalogue
  double field_stars_per_deg2 = 600;  // stars brighter than V 15
  double faintest_v_mag = 19.5;       // of the stars drawn
  double catalogue_reach_v_mag = 9;   // where the catalogue ceases to be complete and drawn stars begin
  // Frames beside each other, all alike, around the target: a mosaic of panels taken one after the other.
  int panels_across = 1, panels_down = 1;
  double panel_overlap = 0.15;  // share of a frame's side that neighbours have in common
};

struct Air {
  double fwhm_arcsec = 2.9;    // at the zenith, star images before tracking errors
  double fwhm_scatter = 0.07;  // from frame to frame, as a share
  double moffat_beta = 3.5;    // wings; turbulence alone gives 4.765 (Trujillo et al. 2001), real stars 2.5..4.5
  double transparency_scatter = 0.012;
  double cloud_depth = 0.6;  // share of the light that the thickest part of the passing cloud takes; 0: none
};

struct Mount {
  double dither_px = 90;          // frames are moved by up to this much, each axis, either way
  double tracking_arcsec = 0.45;  // rms along right ascension, makes stars oval
  double rotation_deg_h = 0.03;   // of the field, from a polar axis not quite on the pole
  double flip_turn_deg = 0.4;     // the meridian flip turns by 180 degrees and this
  double pointing_error_arcmin = 1.6;
  bool meridian_flip = true;  // half-way, when the target crosses the meridian
};

struct Camera {
  rig::Sensor sensor;
  double temperature_c = -10;
  double gain_setting = 100;  // the camera's own numbers, for the header
  double offset_setting = 50;
  double pixel_scatter = 0.008;     // of the sensitivity from pixel to pixel, rms
  double hot_pixels = 0.0015;       // share of pixels with a long tail of dark current
  double glow_e_s = 0.06;           // of the amplifier in its corner
  double column_scatter_adu = 0.9;  // fixed offset of columns, rms
  double vignetting = 0.22;         // share of the light lost in the corners
  double distortion = 0;            // share by which the lens draws the corners outwards, cubic along the radius
  bool mirrored = false;            // an odd number of mirrors: the picture shows the sky as in a mirror
  int dust_shadows = 14;
  double cosmic_rays_cm2_min = 1.2;
  double curvature = 0;         // share by which the answer falls short of a straight line at the full well
  double telegraph_pixels = 0;  // share of pixels whose level hops between two values from frame to frame
};

struct FilterPlan {
  rig::Filter filter;
  int lights = 0;  // of each panel
};

struct Exposures {
  double light_s = 300;
  double flat_s = 2.5;
  double flat_level = 0.45;  // share of saturation
  int darks = 12;
  int flats = 12;  // of each filter
  int bias = 12;
  int dark_flats = 12;
  // Ladders, for photon transfer: so many darks or flats as said above at each step. Empty: one step, as said above.
  // A flat of another level has another exposure before the same lamp.
  std::vector<double> dark_steps_s;
  std::vector<double> flat_steps;      // shares of saturation; above 1: overexposed
  double lamp_scatter = 0.02;          // of the lamp from flat to flat, as a share
  std::string evening = "2026-01-14";  // local date of the evening; the middle of the session is the meridian passage

  [[nodiscard]] int dark_count() const {
    return darks * static_cast<int>(std::max<std::size_t>(1, dark_steps_s.size()));
  }
  [[nodiscard]] int flat_count() const { return flats * static_cast<int>(std::max<std::size_t>(1, flat_steps.size())); }
  // Of the frame with this number, from 1.
  [[nodiscard]] double dark_seconds(int number) const;
  [[nodiscard]] double level_of_flat(int number) const;
  [[nodiscard]] double flat_seconds(int number) const;
};

struct Scenario {
  std::uint64_t seed = 1;
  Site site;
  Target target;
  Air air;
  Mount mount;
  rig::Optics optics;
  Camera camera;
  // Mono sensor: one entry per filter of the wheel. Mosaic sensor: one entry whose filter is the clear window; the
  // colours come from `mosaic`.
  std::vector<FilterPlan> filters;
  std::array<rig::Filter, 3> mosaic;  // red, green, blue dye on a mosaic sensor
  Exposures exposures;
  bool satellite = true;

  [[nodiscard]] Result<void> validate() const;

  [[nodiscard]] double scale_arcsec_px() const { return optics.scale_arcsec_px(camera.sensor.pixel_um); }
  [[nodiscard]] bool is_mosaic() const { return camera.sensor.bayer.has_value(); }
  [[nodiscard]] int panel_count() const { return target.panels_across * target.panels_down; }
  [[nodiscard]] int lights_of_panel() const;
  [[nodiscard]] int light_count() const { return panel_count() * lights_of_panel(); }
};

// Two nights that come built in: the same invented refractor under the same sky.
enum class NightSize : std::uint8_t {
  kSmall,  // 3000 x 2000 pixels; L, R, G, B
  kLarge,  // 4240 x 2832 pixels; 16 lights through L
};
[[nodiscard]] Scenario built_in_scenario(NightSize size);
// The same with a mosaic sensor of the same pixels: as many lights as the mono night has, no filter wheel.
[[nodiscard]] Scenario with_mosaic_sensor(Scenario mono);
// Filters by their names in the built-in wheel: L, R, G, B, Ha, OIII, SII. Errors: kNotFound, with the list.
[[nodiscard]] Result<rig::Filter> built_in_filter(const std::string& name);

}  // namespace ng::simulate
