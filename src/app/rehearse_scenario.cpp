#include "app/rehearse_scenario.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <fstream>
#include <functional>
#include <limits>
#include <map>
#include <sstream>

namespace ng::app {
namespace {

using simulate::Scenario;
using Setter = std::function<Result<void>(const toml::node&)>;
using Keys = std::map<std::string, Setter, std::less<>>;

Error wrong_type(const char* wanted) {
  return {Code::kInvalidInput, fmt::format("must be {}", wanted)};
}

Setter set(double& field) {
  return [&field](const toml::node& node) -> Result<void> {
    const auto value = node.value<double>();
    if (!value) return wrong_type("a number");
    field = *value;
    return {};
  };
}
Setter set(int& field) {
  return [&field](const toml::node& node) -> Result<void> {
    const auto value = node.value_exact<std::int64_t>();
    if (!value || *value < 0 || *value > std::numeric_limits<int>::max()) return wrong_type("a whole number from 0 up");
    field = static_cast<int>(*value);
    return {};
  };
}
Setter set(std::uint64_t& field) {
  return [&field](const toml::node& node) -> Result<void> {
    const auto value = node.value_exact<std::int64_t>();
    if (!value || *value < 0) return wrong_type("a whole number from 0 up");
    field = static_cast<std::uint64_t>(*value);
    return {};
  };
}
Setter set(bool& field) {
  return [&field](const toml::node& node) -> Result<void> {
    const auto value = node.value_exact<bool>();
    if (!value) return wrong_type("true or false");
    field = *value;
    return {};
  };
}
Setter set(std::string& field) {
  return [&field](const toml::node& node) -> Result<void> {
    const auto value = node.value_exact<std::string>();
    if (!value) return wrong_type("a text in quotes");
    field = *value;
    return {};
  };
}

class Reader {
 public:
  explicit Reader(std::string name) : name_(std::move(name)) {}

  Result<void> table(const toml::table& table, const std::string& path, const Keys& keys) const {
    for (const auto& [key, node] : table) {
      const std::string full = path + std::string(key.str());
      const auto known = keys.find(key.str());
      if (known == keys.end()) return at(key.source().begin.line, full, unknown(keys));
      if (const auto set = known->second(node); !set.ok())
        return at(key.source().begin.line, full, set.error().message());
    }
    return {};
  }
  // A key of the outer table that is a table itself.
  [[nodiscard]] Setter inner(const std::string& path, Keys keys) const {
    return [this, path, keys = std::move(keys)](const toml::node& node) -> Result<void> {
      if (!node.is_table()) return wrong_type("a table");
      return table(*node.as_table(), path + ".", keys);
    };
  }
  [[nodiscard]] Error at(std::uint32_t line, const std::string& key, const std::string& what) const {
    if (what.rfind(name_ + ":", 0) == 0) return {Code::kInvalidInput, what};  // an inner table said it already
    return {Code::kInvalidInput, fmt::format("{}:{}: {}: {}", name_, line, key, what)};
  }

 private:
  static std::string unknown(const Keys& keys) {
    std::string list;
    for (const auto& [key, setter] : keys) list += (list.empty() ? "" : ", ") + key;
    return "no such key; known here: " + list;
  }
  std::string name_;
};

Keys site_keys(simulate::Site& s) {
  return {{"name", set(s.name)},
          {"latitude_deg", set(s.latitude_deg)},
          {"longitude_deg", set(s.longitude_deg)},
          {"elevation_m", set(s.elevation_m)},
          {"sky_mag_arcsec2", set(s.sky_mag_arcsec2)},
          {"sky_b_minus_v", set(s.sky_b_minus_v)},
          {"sky_gradient", set(s.sky_gradient)}};
}
Keys target_keys(simulate::Target& t) {
  return {{"name", set(t.name)},
          {"ra_deg", set(t.ra_deg)},
          {"dec_deg", set(t.dec_deg)},
          {"position_angle_deg", set(t.position_angle_deg)},
          {"nebula_rayleighs", set(t.nebula_rayleighs)},
          {"nebula_radius_arcmin", set(t.nebula_radius_arcmin)},
          {"cluster_stars", set(t.cluster_stars)},
          {"field_stars_per_deg2", set(t.field_stars_per_deg2)},
          {"faintest_v_mag", set(t.faintest_v_mag)}};
}
Keys air_keys(simulate::Air& a) {
  return {{"fwhm_arcsec", set(a.fwhm_arcsec)},
          {"fwhm_scatter", set(a.fwhm_scatter)},
          {"moffat_beta", set(a.moffat_beta)},
          {"transparency_scatter", set(a.transparency_scatter)},
          {"cloud_depth", set(a.cloud_depth)}};
}
Keys mount_keys(simulate::Mount& m) {
  return {{"dither_px", set(m.dither_px)},
          {"tracking_arcsec", set(m.tracking_arcsec)},
          {"rotation_deg_h", set(m.rotation_deg_h)},
          {"flip_turn_deg", set(m.flip_turn_deg)},
          {"pointing_error_arcmin", set(m.pointing_error_arcmin)},
          {"meridian_flip", set(m.meridian_flip)}};
}
Keys optics_keys(rig::Optics& o) {
  return {{"name", set(o.name)},
          {"aperture_mm", set(o.aperture_mm)},
          {"obstruction_mm", set(o.obstruction_mm)},
          {"focal_length_mm", set(o.focal_length_mm)},
          {"throughput", set(o.throughput)}};
}
Keys sensor_keys(rig::Sensor& s) {
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
Keys camera_keys(simulate::Camera& c) {
  return {{"temperature_c", set(c.temperature_c)},
          {"gain_setting", set(c.gain_setting)},
          {"offset_setting", set(c.offset_setting)},
          {"pixel_scatter", set(c.pixel_scatter)},
          {"hot_pixels", set(c.hot_pixels)},
          {"glow_e_s", set(c.glow_e_s)},
          {"column_scatter_adu", set(c.column_scatter_adu)},
          {"vignetting", set(c.vignetting)},
          {"dust_shadows", set(c.dust_shadows)},
          {"cosmic_rays_cm2_min", set(c.cosmic_rays_cm2_min)}};
}
Keys exposure_keys(simulate::Exposures& e) {
  return {{"light_s", set(e.light_s)},       {"flat_s", set(e.flat_s)},  {"flat_level", set(e.flat_level)},
          {"darks", set(e.darks)},           {"flats", set(e.flats)},    {"bias", set(e.bias)},
          {"dark_flats", set(e.dark_flats)}, {"evening", set(e.evening)}};
}

// [[filters]]: a name of the built-in wheel starts from that filter.
Setter filter_list(const Reader& reader, std::vector<simulate::FilterPlan>& plans) {
  return [&reader, &plans](const toml::node& node) -> Result<void> {
    const toml::array* list = node.as_array();
    if (list == nullptr) return wrong_type("a list of tables, each begun by [[filters]]");
    plans.clear();
    for (const toml::node& item : *list) {
      const toml::table* table = item.as_table();
      if (table == nullptr) return wrong_type("a list of tables, each begun by [[filters]]");
      simulate::FilterPlan plan;
      const std::string name = (*table)["name"].value_or(std::string());
      if (auto known = simulate::built_in_filter(name); known.ok()) plan.filter = *known;
      rig::Filter& f = plan.filter;
      NG_CHECK(reader.table(*table, "filters.",
                            {{"name", set(f.name)},
                             {"lights", set(plan.lights)},
                             {"centre_nm", set(f.centre_nm)},
                             {"width_nm", set(f.width_nm)},
                             {"flank_nm", set(f.flank_nm)},
                             {"throughput", set(f.throughput)}}));
      plans.push_back(std::move(plan));
    }
    return {};
  };
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
  const Reader reader(name);
  try {
    const toml::table root = toml::parse(text, name);
    return reader.table(root, "",
                        {{"seed", set(s.seed)},
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
  } catch (const toml::parse_error& error) {
    return Error(Code::kInvalidInput,
                 fmt::format("{}:{}: not TOML: {}", name, error.source().begin.line, std::string(error.description())));
  }
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
