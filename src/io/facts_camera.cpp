// Exposure, gain, offset, read noise, temperature, levels, binning, regions, filter; and the Bayer pattern.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "io/facts_reader.h"

namespace ng::io {
namespace {

bool has(std::string_view text, std::string_view part) {
  return text.find(part) != std::string_view::npos;
}

void read_exposure(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  const auto seconds = reader.number_within({"EXPTIME", "EXPOSURE", "EXP_TIME", "ITIME"}, 0, 1e7);
  const auto micro = reader.number_within({"EXPOINUS"}, 0, 1e13);
  if (seconds) {
    facts.exposure_s = seconds->value;
  } else if (micro) {
    facts.exposure_s = micro->value * 1e-6;
  }
  const auto other = seconds && seconds->card->name == "EXPTIME" ? reader.number({"EXPOSURE"}) : std::nullopt;
  if (const auto part = reader.number_within({"SUBEXP"}, 1e-6, 1e7)) facts.value_exposure_s = part->value;
  const double second = other ? other->value : micro ? micro->value * 1e-6 : facts.exposure_s.value_or(0);
  if (facts.exposure_s && std::fabs(second - *facts.exposure_s) > 0.01 * std::max(second, *facts.exposure_s))
    reader.warn(fmt::format("the header gives two exposure times, {} s and {} s: the first is taken", *facts.exposure_s,
                            second));
}

bool speaks_of_electrons(const std::string& unit) {
  return has(unit, "e-/") || has(unit, "electron") || has(unit, "e/adu") || has(unit, "e/dn") || has(unit, "[e]");
}

void read_gain(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  if (const auto e = reader.number_within({"EGAIN", "E-GAIN", "E_GAIN"}, 1e-4, 1e4)) facts.electrons_per_adu = e->value;
  if (const auto gain = reader.number({"GAIN"})) {
    if (speaks_of_electrons(gain->unit)) {
      if (!facts.electrons_per_adu && gain->value > 0) facts.electrons_per_adu = gain->value;
    } else {
      facts.gain_setting = gain->value;
      if (!facts.electrons_per_adu && gain->value > 0 && gain->value < 10)
        reader.warn(fmt::format("GAIN = {} states no unit: taken as the camera's setting, not as electrons per ADU",
                                gain->value));
    }
  } else if (const auto iso = reader.number_within({"ISO", "ISOSPEED"}, 1, 1e7)) {
    facts.gain_setting = iso->value;
  }
  if (const auto offset = reader.number({"OFFSET", "BLKLEVEL"})) facts.offset_setting = offset->value;
  if (const auto noise = reader.number_within({"RDNOISE", "READNOIS", "RON"}, 1e-3, 1e4))
    facts.read_noise_e = noise->value;
}

std::optional<FoundNumber> stated_temperature(FactsReader& reader) {
  const auto measured = reader.number({"CCD-TEMP", "CCDTEMP", "CCDATEMP", "TEMPERAT", "CAMTEMP", "DET-TEMP"});
  if (measured && !(measured->value == -1 && has(measured->unit, "no data"))) return measured;
  const auto wanted = reader.number({"SET-TEMP", "CCDSTEMP"});
  if (wanted)
    reader.warn(fmt::format("the sensor's temperature is not stated: its set point {} is taken", wanted->value));
  return wanted;
}

void read_temperature(FactsReader& reader) {
  const auto found = stated_temperature(reader);
  if (!found) return;
  double celsius = found->value;
  const bool says_kelvin = has(found->unit, "kelvin") || found->unit.starts_with("k ") || has(found->unit, "[k]");
  if (says_kelvin || celsius > 150) {
    reader.warn(fmt::format("{} = {} is taken as kelvin", found->card->name, celsius));
    celsius -= 273.15;
  }
  if (celsius < -273.15 || celsius > 150) {
    reader.warn(fmt::format("{} = {} is no temperature of a sensor: ignored", found->card->name, found->card->text));
    return;
  }
  reader.facts().sensor_temperature_c = celsius;
}

void read_levels(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  if (const auto full = reader.number_within({"SATURATE", "SATLEVEL", "DATAMAX"}, 1, 1e12))
    facts.saturation_adu = full->value;
  const auto pedestal = reader.number({"PEDESTAL"});
  if (pedestal && pedestal->value < 0) {
    facts.black_level_adu = -pedestal->value;
  } else if (pedestal && pedestal->value > 0) {
    reader.warn(fmt::format("PEDESTAL = {} is positive (a number to add, by common practice negative): ignored",
                            pedestal->value));
  }
}

// "2x2", "2 2", "2,2" or a single "2".
std::optional<std::array<int, 2>> two_counts(std::string_view text) {
  std::array<int, 2> n{0, 0};
  const char* end = text.data() + text.size();
  auto [at, error] = std::from_chars(text.data(), end, n[0]);
  if (error != std::errc()) return std::nullopt;
  n[1] = n[0];
  while (at != end && (*at == ' ' || *at == 'x' || *at == 'X' || *at == ',' || *at == '*')) ++at;
  if (at != end && std::from_chars(at, end, n[1]).ec != std::errc()) return std::nullopt;
  return n;
}

void read_binning(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  const auto x = reader.number_within({"XBINNING", "CCDXBIN", "XBIN"}, 1, 64);
  const auto y = reader.number_within({"YBINNING", "CCDYBIN", "YBIN"}, 1, 64);
  if (x) facts.binning_x = static_cast<int>(x->value);
  if (x || y) facts.binning_y = static_cast<int>(y ? y->value : x->value);
  if (x || y) return;
  const auto counts = two_counts(reader.text({"BINNING", "CCDSUM", "BINNING1"}));
  if (!counts || (*counts)[0] < 1 || (*counts)[0] > 64 || (*counts)[1] < 1 || (*counts)[1] > 64) return;
  facts.binning_x = (*counts)[0];
  facts.binning_y = (*counts)[1];
}

// "[17:528,1:520]", 1-based and inclusive, columns first. Nothing when it does not lie inside the frame.
std::optional<Region> section(FactsReader& reader, std::string_view name) {
  std::string text = reader.text({name});
  text.erase(std::remove_if(text.begin(), text.end(), [](char c) { return c == ' ' || c == '[' || c == ']'; }),
             text.end());
  std::array<int, 4> n{};
  const char* at = text.data();
  const char* const end = at + text.size();
  for (int i = 0; i < 4; ++i) {
    if (i > 0 && (at == end || *at != (i == 2 ? ',' : ':'))) return std::nullopt;
    const auto [next, error] = std::from_chars(at + (i > 0 ? 1 : 0), end, n[i]);
    if (error != std::errc()) return std::nullopt;
    at = next;
  }
  const FrameFacts& facts = reader.facts();
  const bool inside =
      n[0] >= 1 && n[1] >= n[0] && n[1] <= facts.width && n[2] >= 1 && n[3] >= n[2] && n[3] <= facts.height;
  if (at == end && inside) return Region{n[0] - 1, n[2] - 1, n[1] - n[0] + 1, n[3] - n[2] + 1};
  reader.warn(fmt::format("{} = [{}] does not lie inside this frame (was it trimmed already?): ignored", name, text));
  return std::nullopt;
}

// A second filter wheel often says what is not in the beam.
bool is_no_filter(std::string_view text) {
  const std::string t = upper(text);
  return t == "AIR" || t == "OPEN" || t == "EMPTY" || t == "CLEAR" || t == "NONE";
}

void read_filter(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  facts.filter = reader.text({"FILTER"});
  for (const std::string_view name : {"FILTER1", "FILTER2", "FILTER3"}) {
    const std::string text = reader.text({name});
    if (!text.empty() && (facts.filter.empty() || is_no_filter(facts.filter)) &&
        reader.cards().find("FILTER") == nullptr)
      facts.filter = text;
  }
  if (upper(facts.filter) == "NONE" || upper(facts.filter) == "EMPTY") facts.filter.clear();
}

int pattern_offset(FactsReader& reader, std::string_view name) {
  const auto value = reader.number({name});
  return value ? static_cast<int>(std::llround(std::fmod(value->value, 2.0))) & 1 : 0;
}

}  // namespace

void read_camera(FactsReader& reader) {
  read_exposure(reader);
  read_gain(reader);
  read_temperature(reader);
  read_levels(reader);
  read_binning(reader);
  read_filter(reader);
  reader.facts().useful_region = section(reader, "TRIMSEC");
  reader.facts().overscan_region = section(reader, "BIASSEC");
}

void read_mosaic_pattern(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  if (facts.planes != 1) return;
  std::optional<BayerPattern> stated;
  std::string_view where;
  for (const std::string_view name : {"BAYERPAT", "CFAIMAGE", "COLORTYP", "CFATYPE", "FILTER"}) {
    const ScannedCard* card = reader.cards().find(name);
    if (card != nullptr && !stated) stated = parse_bayer(trimmed(card->text));
    if (stated && where.empty()) where = name;
  }
  const std::string unknown = reader.text({"BAYERPAT"});
  if (!stated && !unknown.empty() && upper(unknown) != "NONE" && upper(unknown) != "MONO")
    reader.warn(fmt::format("BAYERPAT = '{}' is no Bayer pattern: ignored", unknown));
  if (!stated) return;
  if (where == "FILTER") facts.filter.clear();
  const BayerPattern moved =
      bayer_shifted(*stated, pattern_offset(reader, "XBAYROFF"), pattern_offset(reader, "YBAYROFF"));
  const std::string order = upper(reader.text({"ROWORDER"}));
  if (order == "BOTTOM-UP") {
    facts.bayer = bayer_flipped(moved, facts.height);
    return;
  }
  facts.bayer = moved;
  if (order.empty())
    reader.warn(fmt::format("{} = {} stands without ROWORDER: taken as the pattern of the first stored row", where,
                            to_string(moved)));
  else if (order != "TOP-DOWN")
    reader.warn(fmt::format("ROWORDER = '{}' is neither TOP-DOWN nor BOTTOM-UP: taken as TOP-DOWN", order));
}

}  // namespace ng::io
