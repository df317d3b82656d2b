#include "simulate/scenario.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <set>

namespace ng::simulate {
namespace {

struct Limit {
  const char* name;
  double value, low, high;
};

Result<void> within(std::initializer_list<Limit> limits) {
  for (const Limit& l : limits)
    if (!(l.value >= l.low && l.value <= l.high))
      return Error(Code::kInvalidInput,
                   fmt::format("{} is {}: it must lie between {} and {}", l.name, l.value, l.low, l.high));
  return {};
}

bool is_file_word(const std::string& name) {
  return !name.empty() && name.size() <= 12 &&
         std::all_of(name.begin(), name.end(), [](unsigned char c) { return std::isalnum(c) != 0 || c == '-'; });
}

Result<void> validate_filters(const Scenario& s) {
  if (s.filters.empty()) return Error(Code::kInvalidInput, "no filter is planned: name one at least");
  if (s.is_mosaic() && s.filters.size() != 1)
    return Error(Code::kInvalidInput,
                 "a mosaic sensor has its colours on the chip: plan one entry of lights, no wheel");
  std::set<std::string> names;
  for (const FilterPlan& plan : s.filters) {
    NG_CHECK(plan.filter.validate());
    if (!is_file_word(plan.filter.name))
      return Error(Code::kInvalidInput,
                   fmt::format("filter name '{}' goes into file names: use up to 12 letters, digits "
                               "and '-'",
                               plan.filter.name));
    if (!names.insert(plan.filter.name).second)
      return Error(Code::kInvalidInput, fmt::format("filter {} is planned twice", plan.filter.name));
    if (plan.lights < 0 || plan.lights > 5000)
      return Error(Code::kInvalidInput,
                   fmt::format("{} lights through {}: plan 0 to 5000", plan.lights, plan.filter.name));
  }
  if (s.is_mosaic())
    for (const rig::Filter& dye : s.mosaic) NG_CHECK(dye.validate().in("mosaic"));
  return {};
}

}  // namespace

double Exposures::dark_seconds(int number) const {
  return dark_steps_s.empty() ? light_s : dark_steps_s[static_cast<std::size_t>((number - 1) / darks)];
}

double Exposures::level_of_flat(int number) const {
  return flat_steps.empty() ? flat_level : flat_steps[static_cast<std::size_t>((number - 1) / flats)];
}

double Exposures::flat_seconds(int number) const {
  return flat_s * level_of_flat(number) / flat_level;
}

int Scenario::lights_of_panel() const {
  int count = 0;
  for (const FilterPlan& plan : filters) count += plan.lights;
  return count;
}

Result<void> Scenario::validate() const {
  NG_CHECK(within({{"latitude_deg", site.latitude_deg, -90, 90},
                   {"longitude_deg", site.longitude_deg, -180, 360},
                   {"elevation_m", site.elevation_m, -500, 9000},
                   {"sky_mag_arcsec2", site.sky_mag_arcsec2, 14, 23},
                   {"sky_b_minus_v", site.sky_b_minus_v, -0.4, 2.2},
                   {"sky_gradient", site.sky_gradient, 0, 0.9}})
               .in("site"));
  NG_CHECK(within({{"ra_deg", target.ra_deg, -360, 360},
                   {"dec_deg", target.dec_deg, -90, 90},
                   {"position_angle_deg", target.position_angle_deg, -360, 360},
                   {"nebula_rayleighs", target.nebula_rayleighs, 0, 1e5},
                   {"nebula_radius_arcmin", target.nebula_radius_arcmin, 1, 300},
                   {"cluster_stars", static_cast<double>(target.cluster_stars), 0, 10000},
                   {"field_stars_per_deg2", target.field_stars_per_deg2, 0, 1e5},
                   {"faintest_v_mag", target.faintest_v_mag, 8, 22},
                   {"catalogue_reach_v_mag", target.catalogue_reach_v_mag, 0, 22},
                   {"panels_across", static_cast<double>(target.panels_across), 1, 20},
                   {"panels_down", static_cast<double>(target.panels_down), 1, 20},
                   {"panel_overlap", target.panel_overlap, 0, 0.9}})
               .in("target"));
  NG_CHECK(within({{"fwhm_arcsec", air.fwhm_arcsec, 0.3, 400},
                   {"fwhm_scatter", air.fwhm_scatter, 0, 0.5},
                   {"moffat_beta", air.moffat_beta, 2, 10},
                   {"transparency_scatter", air.transparency_scatter, 0, 0.2},
                   {"cloud_depth", air.cloud_depth, 0, 1}})
               .in("air"));
  NG_CHECK(within({{"dither_px", mount.dither_px, 0, 2000},
                   {"tracking_arcsec", mount.tracking_arcsec, 0, 30},
                   {"rotation_deg_h", mount.rotation_deg_h, -5, 5},
                   {"flip_turn_deg", mount.flip_turn_deg, -30, 30},
                   {"pointing_error_arcmin", mount.pointing_error_arcmin, 0, 120}})
               .in("mount"));
  NG_CHECK(within({{"temperature_c", camera.temperature_c, -60, 50},
                   {"pixel_scatter", camera.pixel_scatter, 0, 0.1},
                   {"hot_pixels", camera.hot_pixels, 0, 0.1},
                   {"glow_e_s", camera.glow_e_s, 0, 100},
                   {"column_scatter_adu", camera.column_scatter_adu, 0, 50},
                   {"vignetting", camera.vignetting, 0, 0.9},
                   {"distortion", camera.distortion, -0.1, 0.1},
                   {"dust_shadows", static_cast<double>(camera.dust_shadows), 0, 1000},
                   {"cosmic_rays_cm2_min", camera.cosmic_rays_cm2_min, 0, 1000},
                   {"curvature", camera.curvature, 0, 0.5},
                   {"telegraph_pixels", camera.telegraph_pixels, 0, 0.1}})
               .in("camera"));
  NG_CHECK(within({{"light_s", exposures.light_s, 0.001, 36000},
                   {"flat_s", exposures.flat_s, 0.0001, 600},
                   {"flat_level", exposures.flat_level, 0.01, 0.95},
                   {"darks", static_cast<double>(exposures.darks), 0, 5000},
                   {"flats", static_cast<double>(exposures.flats), 0, 5000},
                   {"bias", static_cast<double>(exposures.bias), 0, 5000},
                   {"dark_flats", static_cast<double>(exposures.dark_flats), 0, 5000},
                   {"all darks of the ladder", static_cast<double>(exposures.dark_count()), 0, 10000},
                   {"all flats of the ladder", static_cast<double>(exposures.flat_count()), 0, 10000},
                   {"lamp_scatter", exposures.lamp_scatter, 0, 0.5}})
               .in("exposures"));
  for (const double seconds : exposures.dark_steps_s)
    NG_CHECK(within({{"a step of dark_steps_s", seconds, 0, 36000}}).in("exposures"));
  for (const double level : exposures.flat_steps)
    NG_CHECK(within({{"a step of flat_steps", level, 0.0001, 10}}).in("exposures"));
  if (!Instant::parse(exposures.evening))
    return Error(Code::kInvalidInput,
                 fmt::format("exposures: evening is '{}': write a date like 2026-01-14", exposures.evening));
  NG_CHECK(optics.validate().in("optics"));
  NG_CHECK(camera.sensor.validate().in("camera"));
  return validate_filters(*this);
}

}  // namespace ng::simulate
