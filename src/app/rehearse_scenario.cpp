#include "app/rehearse_scenario.h"

#include <fmt/format.h>

#include <fstream>
#include <sstream>

#include "app/toml_keys.h"

namespace ng::app {
namespace {

using simulate::Scenario;

TomlKeys site_keys(simulate::Site& s) {
  return {{"name", set(s.name)},
          {"latitude_deg", set(s.latitude_deg)},
          {"longitude_deg", set(s.longitude_deg)},
          {"elevation_m", set(s.elevation_m)},
          {"sky_mag_arcsec2", set(s.sky_mag_arcsec2)},
          {"sky_b_minus_v", set(s.sky_b_minus_v)},
          {"sky_gradient", set(s.sky_gradient)}};
}
TomlKeys target_keys(simulate::Target& t) {
  return {{"name", set(t.name)},
          {"ra_deg", set(t.ra_deg)},
          {"dec_deg", set(t.dec_deg)},
          {"position_angle_deg", set(t.position_angle_deg)},
          {"nebula_rayleighs", set(t.nebula_rayleighs)},
          {"nebula_radius_arcmin", set(t.nebula_radius_arcmin)},
          {"cluster_stars", set(t.cluster_stars)},
          {"field_stars_per_deg2", set(t.field_stars_per_deg2)},
          {"faintest_v_mag", set(t.faintest_v_mag)},
          {"catalogue_reach_v_mag", set(t.catalogue_reach_v_mag)},
          {"panels_across", set(t.panels_across)},
          {"panels_down", set(t.panels_down)},
          {"panel_overlap", set(t.panel_overlap)}};
}
TomlKeys air_keys(simulate::Air& a) {
  return {{"fwhm_arcsec", set(a.fwhm_arcsec)},
          {"fwhm_scatter", set(a.fwhm_scatter)},
          {"moffat_beta", set(a.moffat_beta)},
          {"transparency_scatter", set(a.transparency_scatter)},
          {"cloud_depth", set(a.cloud_depth)}};
}
TomlKeys mount_keys(simulate::Mount& m) {
  return {{"dither_px", set(m.dither_px)},
          {"tracking_arcsec", set(m.tracking_arcsec)},
          {"rotation_deg_h", set(m.rotation_deg_h)},
          {"flip_turn_deg", set(m.flip_turn_deg)},
          {"pointing_error_arcmin", set(m.pointing_error_arcmin)},
          {"meridian_flip", set(m.meridian_flip)}};
}
TomlKeys optics_keys(rig::Optics& o) {
  return {{"name", set(o.name)},
          {"aperture_mm", set(o.aperture_mm)},
          {"obstruction_mm", set(o.obstruction_mm)},
          {"focal_length_mm", set(o.focal_length_mm)},
          {"reducer", set(o.reducer)},
          {"throughput", set(o.throughput)}};
}
TomlKeys sensor_keys(rig::Sensor& s) {
  return {{"name", set(s.name)},
          {"width", set(s.width)},
          {"height", set(s.height)},
          {"pixel_um", set(s.pixel_um)},
          {"gain_e_adu", set(s.gain_e_adu)},
          {"read_noise_e", set(s.read_noise_e)},
          {"full_well_e", set(s.full_well_e)},
          {"offset_adu", set(s.offset_adu)},
          {"bits", set(s.bits)},
          {"dark_e_s", set(s.dark_e_s)},
          {"dark_reference_c", set(s.dark_reference_c)}};
}
TomlKeys camera_keys(simulate::Camera& c) {
  return {{"temperature_c", set(c.temperature_c)},
          {"gain_setting", set(c.gain_setting)},
          {"offset_setting", set(c.offset_setting)},
          {"pixel_scatter", set(c.pixel_scatter)},
          {"hot_pixels", set(c.hot_pixels)},
          {"glow_e_s", set(c.glow_e_s)},
          {"column_scatter_adu", set(c.column_scatter_adu)},
          {"vignetting", set(c.vignetting)},
          {"distortion", set(c.distortion)},
          {"mirrored", set(c.mirrored)},
          {"dust_shadows", set(c.dust_shadows)},
          {"cosmic_rays_cm2_min", set(c.cosmic_rays_cm2_min)},
          {"curvature", set(c.curvature)},
          {"telegraph_pixels", set(c.telegraph_pixels)}};
}
TomlKeys exposure_keys(simulate::Exposures& e) {
  return {{"light_s", set(e.light_s)},
          {"flat_s", set(e.flat_s)},
          {"flat_level", set(e.flat_level)},
          {"darks", set(e.darks)},
          {"flats", set(e.flats)},
          {"bias", set(e.bias)},
          {"dark_flats", set(e.dark_flats)},
          {"evening", set(e.evening)},
          {"dark_steps_s", set(e.dark_steps_s)},
          {"flat_steps", set(e.flat_steps)},
          {"lamp_scatter", set(e.lamp_scatter)}};
}

// [[filters]]: a name of the built-in wheel starts from that filter.
TomlSetter filter_list(const TomlReader& reader, std::vector<simulate::FilterPlan>& plans) {
  return reader.tables("filters", [&reader, &plans](const toml::table* item) -> Result<void> {
    if (item == nullptr) {
      plans.clear();
      return {};
    }
    simulate::FilterPlan plan;
    const std::string name = (*item)["name"].value_or(std::string());
    if (auto known = simulate::built_in_filter(name); known.ok()) plan.filter = *known;
    rig::Filter& f = plan.filter;
    NG_CHECK(reader.table(*item, "filters.",
                          {{"name", set(f.name)},
                           {"lights", set(plan.lights)},
                           {"centre_nm", set(f.centre_nm)},
                           {"width_nm", set(f.width_nm)},
                           {"flank_nm", set(f.flank_nm)},
                           {"throughput", set(f.throughput)}}));
    plans.push_back(std::move(plan));
    return {};
  });
}

Result<void> apply_options(const RehearseRequest& r, Scenario& s) {
  if (r.seed) s.seed = *r.seed;
  if (!r.filters.empty()) {
    if (s.is_mosaic())
      return Error(Code::kInvalidInput, "a mosaic sensor has its colours on the chip: leave --filters out");
    const int lights = s.filters.empty() ? 8 : s.filters.back().lights;
    std::vector<simulate::FilterPlan> plans;
    for (const std::string& name : r.filters) {
      simulate::FilterPlan plan;
      plan.lights = lights;
      bool planned = false;  // a filter that the night has already keeps its lights
      for (const simulate::FilterPlan& old : s.filters) {
        if (old.filter.name != name) continue;
        plan = old;
        planned = true;
      }
      if (!planned) {
        NG_TRY(plan.filter, simulate::built_in_filter(name));
      }
      plans.push_back(std::move(plan));
    }
    s.filters = std::move(plans);
  }
  if (r.lights)
    for (simulate::FilterPlan& plan : s.filters) plan.lights = *r.lights;
  if (r.darks) s.exposures.darks = *r.darks;
  if (r.flats) s.exposures.flats = *r.flats;
  if (r.bias) s.exposures.bias = *r.bias;
  if (r.dark_flats) s.exposures.dark_flats = *r.dark_flats;
  if (r.width) s.camera.sensor.width = *r.width;
  if (r.height) s.camera.sensor.height = *r.height;
  if (r.exposure_s) s.exposures.light_s = *r.exposure_s;
  return {};
}

}  // namespace

Result<void> apply_scenario_text(const std::string& text, const std::string& name, Scenario& s) {
  const TomlReader reader(name);
  return reader.read(text, {{"seed", set(s.seed)},
                            {"satellite", set(s.satellite)},
                            {"site", reader.inner("site", site_keys(s.site))},
                            {"target", reader.inner("target", target_keys(s.target))},
                            {"air", reader.inner("air", air_keys(s.air))},
                            {"mount", reader.inner("mount", mount_keys(s.mount))},
                            {"optics", reader.inner("optics", optics_keys(s.optics))},
                            {"sensor", reader.inner("sensor", sensor_keys(s.camera.sensor))},
                            {"camera", reader.inner("camera", camera_keys(s.camera))},
                            {"exposures", reader.inner("exposures", exposure_keys(s.exposures))},
                            {"filters", filter_list(reader, s.filters)}});
}

Result<Scenario> scenario_of(const RehearseRequest& request) {
  Scenario scenario = simulate::built_in_scenario(request.night);
  if (request.mosaic) scenario = simulate::with_mosaic_sensor(std::move(scenario));
  if (request.scenario) {
    std::ifstream in(*request.scenario, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    if (!in) return Error(Code::kNotFound, fmt::format("cannot read the scenario {}", request.scenario->string()));
    NG_CHECK(apply_scenario_text(text.str(), request.scenario->string(), scenario));
  }
  NG_CHECK(apply_options(request, scenario));
  NG_CHECK(scenario.validate());
  return scenario;
}

}  // namespace ng::app
