// Where the mount pointed, and where the telescope stood.
#include <fmt/format.h>

#include <cmath>

#include "base/angle.h"
#include "io/facts_reader.h"

namespace ng::io {
namespace {

bool has(std::string_view text, std::string_view part) {
  return text.find(part) != std::string_view::npos;
}

struct FoundAngle {
  double value = 0;          // in the unit of the first field
  bool sexagesimal = false;  // several fields
  char side = ' ';           // 'N', 'S', 'E', 'W' when such a letter stands at either end
  std::string unit;
};

std::optional<FoundAngle> angle(FactsReader& reader, std::string_view name) {
  const ScannedCard* card = reader.cards().find(name);
  if (card == nullptr) return std::nullopt;
  std::string text = reader.text({name});
  FoundAngle found;
  found.unit = lower(card->comment);
  for (int end = 0; end < 2 && !text.empty(); ++end) {
    const char c = upper(text)[end == 0 ? 0 : text.size() - 1];
    if (c != 'N' && c != 'S' && c != 'E' && c != 'W') continue;
    found.side = c;
    text.erase(end == 0 ? 0 : text.size() - 1, 1);
    text = std::string(trimmed(text));
  }
  if (text.empty()) return std::nullopt;
  const auto number = leading_number(text);
  if (number && number->rest.empty()) {
    found.value = number->value;
  } else if (const auto fields = parse_sexagesimal(text)) {
    found.value = *fields;
    found.sexagesimal = true;
  } else {
    reader.warn(fmt::format("{} = '{}' is no angle: ignored", name, text));
    return std::nullopt;
  }
  return found;
}

// Greenwich mean sidereal time in degrees, to 0.1 s over this century: Meeus, Astronomical Algorithms (1998), eq. 12.4,
// without the terms in T^2. Used for one thing only: to see whether a longitude's sign fits the header's own clock.
double sidereal_deg(const Instant& t) {
  return std::remainder(280.46061837 + 360.98564736629 * (t.jd() - 2451545.0), 360.0);
}

// Does the header itself show that its longitude counts west as positive?
std::optional<std::string> sign_of_west(FactsReader& reader, double longitude_deg) {
  const FrameFacts& facts = reader.facts();
  const auto lst = angle(reader, "LST");
  if (lst && lst->sexagesimal && facts.start) {
    const double local = lst->value * 15;
    const double east = std::fabs(std::remainder(local - sidereal_deg(*facts.start) - longitude_deg, 360.0));
    const double west = std::fabs(std::remainder(local - sidereal_deg(*facts.start) + longitude_deg, 360.0));
    if (west < 1 && east > 2) return "the sidereal time in the header fits west";
    if (east < 1) return std::nullopt;
  }
  const std::string date = reader.text({"DATE-OBS"});
  const std::size_t zone_at = date.size() > 19 ? date.find_first_of("+-", 19) : std::string::npos;
  if (zone_at == std::string::npos) return std::nullopt;
  const auto zone = leading_number(std::string_view(date).substr(zone_at, 3));
  if (!zone || zone->value == 0) return std::nullopt;
  const double east = std::fabs(std::remainder(longitude_deg - zone->value * 15, 360.0));
  const double west = std::fabs(std::remainder(-longitude_deg - zone->value * 15, 360.0));
  if (west < 45 && east > 60) return fmt::format("the local time zone {:+g} h fits west", zone->value);
  return std::nullopt;
}

void read_longitude(FactsReader& reader) {
  for (const std::string_view name : {"SITELONG", "LONG-OBS", "LONGITUD", "OBSGEO-L", "OBSLONG", "GEOLON"}) {
    const auto found = angle(reader, name);
    if (!found) continue;
    double east = found->value;
    if (std::fabs(east) > 360) {
      reader.warn(fmt::format("{} = {} is no longitude: ignored", name, east));
      continue;
    }
    const bool says_west = found->side == 'W' || has(found->unit, "[deg west") || has(found->unit, "west positive") ||
                           has(found->unit, "deg west") || has(found->unit, "degrees west");
    if (says_west) {
      reader.warn(fmt::format("{} = {:.8g} is stated as west: turned into east {:.8g}", name, east,
                              found->side == 'W' ? -std::fabs(east) : -east));
      east = found->side == 'W' ? -std::fabs(east) : -east;
    } else if (found->side != 'E' && !has(found->unit, "east")) {
      if (const auto why = sign_of_west(reader, east)) {
        reader.warn(fmt::format("{} = {:.8g} seems to count west as positive ({}): turned into east {:.8g}", name, east,
                                *why, -east));
        east = -east;
      }
    }
    reader.facts().site_longitude_deg = std::remainder(east, 360.0);
    return;
  }
}

struct PointingNames {
  std::string_view ra, dec;
  bool degrees;  // a sexagesimal or plain RA of this name counts degrees
};

std::optional<double> right_ascension_deg(const FoundAngle& ra, bool named_degrees) {
  const bool hours = (ra.sexagesimal && !named_degrees) || has(ra.unit, "hour") || has(ra.unit, "[h]");
  const double deg = hours && !has(ra.unit, "[deg") ? ra.value * 15 : ra.value;
  return deg >= 0 && deg <= 360 ? std::optional(std::fmod(deg, 360.0)) : std::nullopt;
}

}  // namespace

void read_pointing(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  constexpr PointingNames kNames[] = {{"RA", "DEC", false},        {"OBJCTRA", "OBJCTDEC", false},
                                      {"RA_OBS", "DEC_OBS", true}, {"RA-MNT", "DEC-MNT", true},
                                      {"TELRA", "TELDEC", false},  {"RA_OBJ", "DEC_OBJ", true}};
  for (const PointingNames& names : kNames) {
    const auto ra = angle(reader, names.ra);
    const auto dec = angle(reader, names.dec);
    if (!ra || !dec) continue;
    const auto ra_deg = right_ascension_deg(*ra, names.degrees);
    if (!ra_deg || std::fabs(dec->value) > 90) {
      reader.warn(fmt::format("{} and {} are no direction: ignored", names.ra, names.dec));
      continue;
    }
    facts.ra_deg = ra_deg;
    facts.dec_deg = dec->value;
    break;
  }
  const auto equinox = reader.number({"EQUINOX", "EPOCH"});
  if (facts.ra_deg && equinox && std::fabs(equinox->value - 2000) > 0.01)
    reader.warn(fmt::format("the pointing is for equinox {}: it is taken as J2000 all the same", equinox->value));
  if (const auto airmass = reader.number_within({"AIRMASS", "SECZ"}, 1, 40)) facts.airmass = airmass->value;
}

void read_site(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  for (const std::string_view name : {"SITELAT", "LAT-OBS", "LATITUDE", "OBSGEO-B", "OBSLAT", "GEOLAT"}) {
    const auto found = angle(reader, name);
    if (!found || facts.site_latitude_deg) continue;
    const double north = found->side == 'S' ? -std::fabs(found->value) : found->value;
    if (std::fabs(north) <= 90) {
      facts.site_latitude_deg = north;
    } else {
      reader.warn(fmt::format("{} = {} is no latitude: ignored", name, north));
    }
  }
  read_longitude(reader);
  if (const auto height =
          reader.number_within({"SITEELEV", "ELEV-OBS", "ALT-OBS", "OBSGEO-H", "OBSALT", "HEIGHT"}, -500, 9000))
    facts.site_elevation_m = height->value;
}

}  // namespace ng::io
