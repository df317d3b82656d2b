// rig.toml.
#include <fmt/format.h>

#include "app/toml_keys.h"
#include "app/workspace.h"

namespace ng::app {
namespace {

TomlKeys optics_keys(rig::Optics& o) {
  return {{"name", set(o.name)},
          {"aperture_mm", need(above(o.aperture_mm, 0, 5000))},
          {"obstruction_mm", within(o.obstruction_mm, 0, 5000)},
          {"focal_length_mm", need(above(o.focal_length_mm, 0, 50000))},
          {"reducer", within(o.reducer, 0.2, 5)},
          {"throughput", above(o.throughput, 0, 1)}};
}

// [[400, 62], [550, 87]]: pairs of wavelength in nm and per cent.
TomlSetter percent_by_nm(rig::Curve& curve) {
  return [&curve](const toml::node& node) -> Result<void> {
    const Error wrong(Code::kInvalidInput, "must be pairs of wavelength and per cent, like [[400, 62], [550, 87]]");
    const toml::array* list = node.as_array();
    if (list == nullptr) return wrong;
    curve.points.clear();
    for (const toml::node& item : *list) {
      const toml::array* pair = item.as_array();
      if (pair == nullptr || pair->size() != 2) return wrong;
      const auto nm = pair->get(0)->value<double>(), percent = pair->get(1)->value<double>();
      if (!nm || !percent) return wrong;
      curve.points.push_back({*nm, *percent / 100});
    }
    return curve.validate("the curve, as a share,");
  };
}

TomlSetter mosaic(std::optional<BayerPattern>& field) {
  return [&field](const toml::node& node) -> Result<void> {
    const auto value = node.value_exact<std::string>();
    field.reset();
    if (value && *value == "none") return {};
    if (value) field = parse_bayer(*value);
    if (!field) return Error(Code::kInvalidInput, R"(must be "none", "RGGB", "BGGR", "GRBG" or "GBRG")");
    return {};
  };
}

TomlKeys gain_keys(rig::GainRow& row) {
  return {{"setting", need(within(row.setting, 0, 1e6))},
          {"gain_e_adu", need(above(row.gain_e_adu, 0, 1000))},
          {"read_noise_e", need(above(row.read_noise_e, 0, 1000))},
          {"full_well_e", within(row.full_well_e, 1, 1e7)}};
}

TomlKeys sensor_keys(const TomlReader& reader, rig::Rig& r) {
  rig::Sensor& s = r.sensor;
  return {{"name", set(s.name)},
          {"width_px", need(within(s.width, 32, 20000))},
          {"height_px", need(within(s.height, 32, 20000))},
          {"pixel_um", need(above(s.pixel_um, 0, 100))},
          {"bits", within(s.bits, 8, 16)},
          {"offset_adu", within(s.offset_adu, 0, 60000)},
          {"full_well_e", above(s.full_well_e, 0, 1e7)},
          {"dark_e_s", within(s.dark_e_s, 0, 1000)},
          {"dark_reference_c", within(s.dark_reference_c, -100, 60)},
          {"mosaic", mosaic(s.bayer)},
          {"quantum_efficiency_percent_by_nm", percent_by_nm(s.quantum_efficiency)},
          {"gain_setting", within(r.gain_setting, 0, 1e6)},
          {"gains", reader.list<rig::GainRow>("sensor.gains", r.gains.rows, gain_keys)}};
}

TomlKeys filter_keys(rig::Filter& f) {
  return {{"name", need(set(f.name))},
          {"centre_nm", need(within(f.centre_nm, 300, 1100))},
          {"width_nm", need(above(f.width_nm, 0, 800))},
          {"flank_nm", within(f.flank_nm, 0, 800)},
          {"throughput", above(f.throughput, 0, 1)},
          {"thickness_mm", within(f.thickness_mm, 0, 20)},
          {"refractive_index", within(f.refractive_index, 1, 2.5)}};
}

TomlKeys guide_keys(rig::GuideOptics& g) {
  return {{"aperture_mm", need(above(g.aperture_mm, 0, 5000))},
          {"focal_length_mm", need(above(g.focal_length_mm, 0, 50000))},
          {"pixel_um", need(above(g.pixel_um, 0, 100))},
          {"width_px", within(g.width, 32, 20000)},
          {"height_px", within(g.height, 32, 20000)}};
}

TomlKeys mount_keys(rig::Mount& m) {
  return {{"past_meridian_min", within(m.past_meridian_min, 0, 720)},
          {"flip_min", within(m.flip_min, 0, 60)},
          {"guided_error_arcsec", within(m.guided_error_arcsec, 0, 60)},
          {"periodic_error_arcsec", within(m.periodic_error_arcsec, 0, 600)},
          {"worm_period_s", above(m.worm_period_s, 0, 86400)},
          {"polar_error_arcmin", within(m.polar_error_arcmin, 0, 600)},
          {"slew_deg_s", above(m.slew_deg_s, 0, 30)}};
}

TomlKeys timing_keys(rig::Timing& t) {
  return {{"download_s", within(t.download_s, 0, 120)},
          {"dither_px", within(t.dither_px, 0, 200)},
          {"dither_s", within(t.dither_s, 0, 300)},
          {"dither_every", within(t.dither_every, 1, 1000)},
          {"filter_change_s", within(t.filter_change_s, 0, 300)},
          {"refocus_min", within(t.refocus_min, 0, 60)},
          {"refocus_every_c", within(t.refocus_every_c, 0, 50)},
          {"refocus_with_filter", set(t.refocus_with_filter)},
          {"centring_min", within(t.centring_min, 0, 60)},
          {"park_min", within(t.park_min, 0, 120)},
          {"flats_min", within(t.flats_min, 0, 180)}};
}

TomlKeys load_keys(rig::Load& l) {
  return {{"name", need(set(l.name))},
          {"watts", need(within(l.watts, 0, 5000))},
          {"peak_watts", within(l.peak_watts, 0, 5000)},
          {"share_of_time", within(l.share_of_time, 0, 1)},
          {"supply", set(l.supply)}};
}

TomlSetter gauge(std::optional<int>& field) {
  return [&field](const toml::node& node) -> Result<void> {
    int value = 0;
    NG_CHECK(within(value, 0, 30)(node));
    field = value;
    return {};
  };
}

TomlKeys supply_keys(rig::Supply& s) {
  return {{"name", need(set(s.name))},
          {"volts", need(above(s.volts, 0, 60))},
          {"rated_a", need(above(s.rated_a, 0, 200))},
          {"cable_m", need(within(s.cable_m, 0, 100))},
          {"cable_mm2", within(s.cable_mm2, 0.1, 50)},
          {"cable_awg", gauge(s.cable_awg)}};
}

TomlSetter chemistry(rig::Chemistry& field) {
  return [&field](const toml::node& node) -> Result<void> {
    const auto value = node.value_exact<std::string>();
    if (value && *value == "lithium iron phosphate") {
      field = rig::Chemistry::kLithiumIronPhosphate;
    } else if (value && *value == "lead acid") {
      field = rig::Chemistry::kLeadAcid;
    } else {
      return Error(Code::kInvalidInput, R"(must be "lithium iron phosphate" or "lead acid")");
    }
    return {};
  };
}

TomlKeys battery_keys(rig::Battery& b) {
  return {{"chemistry", chemistry(b.chemistry)},
          {"capacity_ah", need(above(b.capacity_ah, 0, 5000))},
          {"volts", need(above(b.volts, 0, 60))},
          {"usable_percent", need(within(b.usable_share, 1, 100))}};
}

// Filled where the file leaves it out: what most sensors of today do; a note would not change what anyone does.
rig::Sensor usual_sensor() {
  rig::Sensor s;
  s.full_well_e = 50000;
  s.offset_adu = 500;
  s.dark_e_s = 0.003;
  s.dark_reference_c = -10;
  s.quantum_efficiency.points = {{350, 0.35}, {400, 0.60}, {450, 0.80}, {500, 0.87}, {550, 0.86}, {600, 0.80},
                                 {650, 0.72}, {700, 0.62}, {800, 0.40}, {900, 0.20}, {1000, 0.07}};
  return s;
}

}  // namespace

Result<rig::Rig> parse_rig(const std::string& text, const std::string& name) {
  rig::Rig r;
  r.sensor = usual_sensor();
  r.gain_setting = -1;
  rig::GuideOptics guide;
  const TomlReader reader(name);
  const TomlSetter read_guide = reader.inner("guide", guide_keys(guide));
  const TomlSetter guide_table = [&](const toml::node& node) -> Result<void> {
    NG_CHECK(read_guide(node));
    r.guide = guide;
    return {};
  };
  rig::Power power;
  rig::Battery battery;
  const TomlSetter read_battery = reader.inner("power.battery", battery_keys(battery));
  const TomlSetter battery_table = [&](const toml::node& node) -> Result<void> {
    NG_CHECK(read_battery(node));
    power.battery = battery;
    power.battery->usable_share /= 100;
    return {};
  };
  const TomlSetter read_power = reader.inner(
      "power", {{"lowest_volts", within(power.lowest_volts, 1, 60)},
                {"supplies", need(reader.list<rig::Supply>("power.supplies", power.supplies, supply_keys))},
                {"loads", need(reader.list<rig::Load>("power.loads", power.loads, load_keys))},
                {"battery", battery_table}});
  const TomlSetter power_table = [&](const toml::node& node) -> Result<void> {
    NG_CHECK(read_power(node));
    r.power = power;
    return {};
  };
  const TomlKeys cooler{{"temperature_c", within(r.cooler.temperature_c, -60, 40)},
                        {"largest_drop_c", within(r.cooler.largest_drop_c, 0, 80)}};
  NG_CHECK(reader.read(text, {{"name", set(r.name)},
                              {"optics", need(reader.inner("optics", optics_keys(r.optics)))},
                              {"sensor", need(reader.inner("sensor", sensor_keys(reader, r)))},
                              {"cooler", reader.inner("cooler", cooler)},
                              {"filters", need(reader.list<rig::Filter>("filters", r.filters, filter_keys))},
                              {"guide", guide_table},
                              {"mount", reader.inner("mount", mount_keys(r.mount))},
                              {"power", power_table},
                              {"timing", reader.inner("timing", timing_keys(r.timing))}}));
  NG_CHECK(r.gains.validate().in(name + ": sensor.gains"));
  if (r.gain_setting < 0) r.gain_setting = r.gains.rows.front().setting;
  NG_TRY(const rig::GainRow row, r.gains.at(r.gain_setting).in(name + ": sensor.gain_setting"));
  r.sensor = rig::at_gain(std::move(r.sensor), row);
  NG_CHECK(r.validate().in(name));
  return r;
}

}  // namespace ng::app
