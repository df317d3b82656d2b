// site.toml and the horizon file.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <sstream>

#include "app/text_file.h"
#include "app/toml_keys.h"
#include "app/workspace.h"
#include "base/near_word.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;
constexpr const char* kZones = "/usr/share/zoneinfo";

std::vector<std::string> zone_names() {
  std::vector<std::string> names;
  std::error_code failure;
  for (fs::recursive_directory_iterator it(kZones, failure), end; !failure && it != end; it.increment(failure)) {
    const std::string name = it->path().lexically_relative(kZones).string();
    if (it->is_regular_file(failure) && name.rfind("posix/", 0) != 0 && name.rfind("right/", 0) != 0)
      names.push_back(name);
  }
  std::sort(names.begin(), names.end());
  return names;
}

// Where the system has no database, only UTC is known.
TomlSetter zone(std::string& field) {
  return [&field](const toml::node& node) -> Result<void> {
    const auto value = node.value_exact<std::string>();
    if (!value) return Error(Code::kInvalidInput, "must be a text in quotes, like \"Europe/Vienna\"");
    field = *value;
    if (field == "UTC") return {};
    const std::vector<std::string> known = zone_names();
    if (std::binary_search(known.begin(), known.end(), field)) return {};
    if (known.empty())
      return Error(
          Code::kInvalidInput,
          fmt::format("'{}' is not known, for this system has no time zones: install tzdata, or write \"UTC\"", field));
    const auto near = near_word(field, known);
    return Error(Code::kInvalidInput,
                 fmt::format("there is no time zone '{}'{}", field,
                             near ? fmt::format("; did you mean {}?", *near) : "; write one like \"Europe/Vienna\""));
  };
}

// [[0, 12], [90, 20]]: pairs of azimuth and altitude in degrees.
TomlSetter horizon_pairs(rig::Horizon& horizon) {
  return [&horizon](const toml::node& node) -> Result<void> {
    const Error wrong(Code::kInvalidInput, "must be pairs of azimuth and altitude, like [[0, 12], [90, 20]]");
    const toml::array* list = node.as_array();
    if (list == nullptr) return wrong;
    for (const toml::node& item : *list) {
      const toml::array* pair = item.as_array();
      if (pair == nullptr || pair->size() != 2) return wrong;
      const auto azimuth = pair->get(0)->value<double>(), altitude = pair->get(1)->value<double>();
      if (!azimuth || !altitude) return wrong;
      horizon.points.push_back({*azimuth, *altitude});
    }
    return horizon.validate();
  };
}

std::optional<double> take_number(std::string_view& text) {
  const auto first = text.find_first_not_of(" \t,;\r");
  if (first == std::string_view::npos) return std::nullopt;
  text.remove_prefix(first);
  double value = 0;
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (failure != std::errc()) return std::nullopt;
  text.remove_prefix(static_cast<std::size_t>(end - text.data()));
  return value;
}

}  // namespace

Result<rig::Horizon> parse_horizon(const std::string& text, const std::string& name) {
  rig::Horizon horizon;
  std::istringstream lines(text);
  std::string line;
  for (int number = 1; std::getline(lines, line); ++number) {
    std::string_view rest = line;
    const auto azimuth = take_number(rest);
    if (!azimuth) continue;  // a heading, a remark, an empty line
    const auto altitude = take_number(rest);
    if (!altitude)
      return Error(Code::kInvalidInput,
                   fmt::format("{}:{}: an azimuth without its altitude: write two numbers, in degrees", name, number));
    horizon.points.push_back({*azimuth, *altitude});
  }
  if (horizon.points.empty())
    return Error(Code::kInvalidInput, fmt::format("{}: no line of two numbers, azimuth and altitude in degrees", name));
  std::sort(horizon.points.begin(), horizon.points.end(),
            [](const rig::HorizonPoint& a, const rig::HorizonPoint& b) { return a.azimuth_deg < b.azimuth_deg; });
  // A full turn said twice is no second point.
  if (horizon.points.size() > 1 && horizon.points.back().azimuth_deg == 360 && horizon.points.front().azimuth_deg == 0)
    horizon.points.pop_back();
  if (horizon.points.back().azimuth_deg == 360) {
    rig::HorizonPoint north = horizon.points.back();
    north.azimuth_deg = 0;
    horizon.points.pop_back();
    horizon.points.insert(horizon.points.begin(), north);
  }
  NG_CHECK(horizon.validate().in(name));
  return horizon;
}

Result<rig::ObservingSite> parse_site(const std::string& text, const std::string& name, const fs::path& folder) {
  rig::ObservingSite s;
  std::string horizon_file;
  const TomlReader reader(name);
  const TomlKeys sky{{"zenith_mag_arcsec2", within(s.sky_mag_arcsec2, 14, 22.5)},
                     {"b_minus_v", within(s.sky_b_minus_v, -0.4, 2.2)},
                     {"extinction_mag_airmass", within(s.extinction_mag_airmass, 0.05, 2)},
                     {"seeing_fwhm_arcsec", within(s.seeing_fwhm_arcsec, 0.3, 20)}};
  const TomlKeys air{{"temperature_c", within(s.temperature_c, -60, 50)},
                     {"humidity_percent", within(s.humidity_percent, 1, 100)},
                     {"pressure_hpa", within(s.pressure_hpa, 300, 1100)}};
  const TomlKeys horizon{{"lowest_altitude_deg", within(s.lowest_altitude_deg, 0, 89)},
                         {"azimuth_altitude_deg", horizon_pairs(s.horizon)},
                         {"file", set(horizon_file)}};
  NG_CHECK(reader.read(text, {{"name", set(s.name)},
                              {"latitude_deg", need(within(s.latitude_deg, -90, 90))},
                              {"longitude_deg", need(within(s.longitude_deg, -180, 360))},
                              {"elevation_m", within(s.elevation_m, -450, 9000)},
                              {"time_zone", zone(s.time_zone)},
                              {"sky", reader.inner("sky", sky)},
                              {"air", reader.inner("air", air)},
                              {"horizon", reader.inner("horizon", horizon)}}));
  if (!horizon_file.empty()) {
    if (!s.horizon.points.empty())
      return Error(Code::kInvalidInput,
                   fmt::format("{}: the horizon is given twice: keep file or azimuth_altitude_deg", name));
    const fs::path path = folder / horizon_file;
    NG_TRY(const std::string points, read_text(path).in(name + ": horizon.file"));
    NG_TRY(s.horizon, parse_horizon(points, path.string()));
  }
  NG_CHECK(s.validate().in(name));
  return s;
}

}  // namespace ng::app
