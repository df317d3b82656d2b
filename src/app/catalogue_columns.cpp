#include "app/catalogue_columns.h"

#include <fmt/format.h>

#include <cmath>
#include <initializer_list>
#include <sstream>

#include "base/angle.h"
#include "io/fits_card.h"

namespace ng::app {
namespace {

constexpr double kMas = 1e-3 / kArcsecPerRadian;
using Names = std::initializer_list<const char*>;

// Candidates in the order of trust.
const std::map<std::string, std::vector<const char*>>& known_names() {
  static const std::map<std::string, std::vector<const char*>> names{
      {"ra",
       {"ra", "RA_ICRS", "RAmdeg", "RAJ2000", "_RAJ2000", "RAdeg", "_RA", "raj2000", "ra_deg", "right_ascension"}},
      {"dec",
       {"dec", "DE_ICRS", "DEmdeg", "DEJ2000", "_DEJ2000", "DEdeg", "_DE", "decj2000", "dec_deg", "declination"}},
      {"mag", {"phot_g_mean_mag", "Gmag", "Vmag", "V", "v_mag", "mag", "magnitude", "G", "g_mag", "rmag"}},
      {"flux", {}},
      {"colour", {"bp_rp", "BP-RP", "B-V", "bv", "b_v"}},
      {"pmra", {"pmra", "pmRA", "pm_ra"}},
      {"pmdec", {"pmdec", "pmDE", "pm_dec"}},
      {"ra_error", {"ra_error", "e_RA_ICRS", "e_RAmdeg", "e_RAdeg"}},
      {"dec_error", {"dec_error", "e_DE_ICRS", "e_DEmdeg", "e_DEdeg"}},
      {"pmra_error", {"pmra_error", "e_pmRA"}},
      {"pmdec_error", {"pmdec_error", "e_pmDE"}},
  };
  return names;
}

bool has(const std::string& text, const char* part) {
  return text.find(part) != std::string::npos;
}

double angle_factor(const io::TableColumn& c, bool right_ascension, double otherwise) {
  const std::string unit = io::lower(c.unit);
  if (right_ascension && (c.sexagesimal || unit == "h" || has(unit, "hour") || has(unit, "\"h:"))) return kPi / 12;
  if (has(unit, "mas") || has(unit, "milliarcsec")) return kMas;
  if (has(unit, "arcsec")) return 1 / kArcsecPerRadian;
  if (has(unit, "deg")) return kPi / 180;
  if (has(unit, "rad")) return 1;
  return otherwise;
}

std::string column_list(const io::NumberTable& table) {
  std::string list;
  for (const io::TableColumn& c : table.columns()) list += (list.empty() ? "" : ", ") + c.name;
  return list.size() > 400 ? list.substr(0, 400) + " ..." : list;
}

}  // namespace

double usual_motion_rad_year(double magnitude) {
  return 30 * kMas * std::pow(10, -0.1 * (magnitude - 6));
}

Result<ColumnMap> read_column_map(const std::string& text) {
  ColumnMap map;
  std::stringstream parts(text);
  for (std::string part; std::getline(parts, part, ',');) {
    const std::size_t equals = part.find('=');
    if (equals == std::string::npos || equals + 1 == part.size())
      return Error(Code::kInvalidInput, fmt::format("'{}' is no mapping: write it like ra=RA_ICRS,dec=DE_ICRS", part));
    const std::string role = part.substr(0, equals);
    if (!known_names().contains(role)) {
      std::string roles;
      for (const auto& [name, ignored] : known_names()) roles += " " + name;
      return Error(Code::kInvalidInput, fmt::format("'{}' is nothing that a star has; known:{}", role, roles));
    }
    map[role] = part.substr(equals + 1);
  }
  return map;
}

Result<StarColumns> StarColumns::of(const io::NumberTable& table, const ColumnMap& map) {
  for (const auto& [role, name] : map)
    if (!table.find(name))
      return Error(Code::kInvalidInput,
                   fmt::format("there is no column '{}'; the columns are: {}", name, column_list(table)));
  const auto find = [&](const char* role) -> std::optional<std::size_t> {
    if (const auto named = map.find(role); named != map.end()) return table.find(named->second);
    for (const char* name : known_names().at(role))
      if (const auto index = table.find(name)) return index;
    return std::nullopt;
  };
  const auto angle = [&](std::optional<std::size_t> index, bool ra, double otherwise) -> std::optional<Column> {
    if (!index) return std::nullopt;
    return Column{*index, angle_factor(table.columns()[*index], ra, otherwise)};
  };
  const auto plain = [&](std::optional<std::size_t> index) -> std::optional<Column> {
    if (!index) return std::nullopt;
    return Column{*index, 1};
  };
  StarColumns s;
  s.ra_ = angle(find("ra"), true, kPi / 180);
  s.dec_ = angle(find("dec"), false, kPi / 180);
  if (!s.ra_ || !s.dec_)
    return Error(Code::kUnsupported,
                 fmt::format("no columns of right ascension and declination are known here; name them like --columns "
                             "ra=NAME,dec=NAME,mag=NAME; the columns are: {}",
                             column_list(table)));
  if (table.find("RAmdeg")) {
    s.other_ra_ = angle(table.find("RAdeg"), true, kPi / 180);
    s.other_dec_ = angle(table.find("DEdeg"), false, kPi / 180);
  }
  s.pm_ra_ = angle(find("pmra"), false, kMas);
  s.pm_dec_ = angle(find("pmdec"), false, kMas);
  s.ra_error_ = angle(find("ra_error"), false, kMas);
  s.dec_error_ = angle(find("dec_error"), false, kMas);
  s.pm_ra_error_ = angle(find("pmra_error"), false, kMas);
  s.pm_dec_error_ = angle(find("pmdec_error"), false, kMas);
  s.mag_ = plain(find("mag"));
  s.flux_ = plain(find("flux"));
  s.colour_ = plain(find("colour"));
  s.bt_ = plain(table.find("BTmag"));
  s.vt_ = plain(table.find("VTmag"));
  s.bp_ = plain(table.find("phot_bp_mean_mag"));
  s.rp_ = plain(table.find("phot_rp_mean_mag"));
  s.epoch_ = plain(table.find("ref_epoch"));
  if (!s.mag_ && !s.flux_ && !s.vt_)
    return Error(
        Code::kUnsupported,
        fmt::format("no column of brightness is known here; name one like --columns mag=NAME or flux=NAME; the "
                    "columns are: {}",
                    column_list(table)));
  if (s.flux_) s.mag_.reset();
  if (s.mag_) {
    const std::string name = io::lower(table.columns()[s.mag_->index].name);
    s.gaia_ = name == "phot_g_mean_mag";
    if (s.gaia_ || name == "gmag" || name == "g") s.band_ = "G";
    if (name == "vmag" || name == "v" || name == "v_mag") s.band_ = "V";
  } else if (s.vt_ && !s.flux_) {
    s.band_ = "V";
  }
  return s;
}

double StarColumns::value(const std::vector<double>& row, const std::optional<Column>& column) {
  return column ? row[column->index] * column->factor : std::nan("");
}

std::optional<double> StarColumns::epoch_year(const std::vector<double>& row) const {
  const double year = value(row, epoch_);
  return year > 1800 && year < 2200 ? std::optional(year) : std::nullopt;
}

std::optional<catalog::SkyEntry> StarColumns::entry(const std::vector<double>& row) const {
  catalog::SkyEntry e;
  e.ra_rad = value(row, ra_);
  e.dec_rad = value(row, dec_);
  e.pm_ra_rad_year = value(row, pm_ra_);
  e.pm_dec_rad_year = value(row, pm_dec_);
  if (std::isnan(e.ra_rad) || std::isnan(e.dec_rad)) {
    e.ra_rad = value(row, other_ra_);
    e.dec_rad = value(row, other_dec_);
  }
  if (std::isnan(e.ra_rad) || std::isnan(e.dec_rad)) return std::nullopt;

  const double bt = value(row, bt_), vt = value(row, vt_);
  e.magnitude = value(row, mag_);
  if (flux_) e.magnitude = 25 - 2.5 * std::log10(std::max(1e-12, value(row, flux_)));
  if (std::isnan(e.magnitude)) {
    e.magnitude = std::isnan(vt) ? bt : vt;
    if (!std::isnan(bt) && !std::isnan(vt)) {
      e.magnitude = vt - 0.090 * (bt - vt);
      e.colour = 0.850 * (bt - vt);
    }
  }
  if (std::isnan(e.magnitude)) return std::nullopt;
  const double colour = value(row, colour_), bp = value(row, bp_), rp = value(row, rp_);
  if (!std::isnan(colour)) {
    e.colour = colour;
  } else if (!std::isnan(bp) && !std::isnan(rp)) {
    e.colour = bp - rp;
  }

  const auto larger = [](double a, double b, double otherwise) {
    if (std::isnan(a) && std::isnan(b)) return otherwise;
    return std::fmax(a, b);
  };
  e.position_error_rad = larger(value(row, ra_error_), value(row, dec_error_), 100 * kMas);
  if (std::isnan(e.pm_ra_rad_year) || std::isnan(e.pm_dec_rad_year)) {
    e.pm_ra_rad_year = e.pm_dec_rad_year = 0;
    e.motion_error_rad_year = usual_motion_rad_year(e.magnitude);
  } else {
    e.motion_error_rad_year = larger(value(row, pm_ra_error_), value(row, pm_dec_error_), 3 * kMas);
  }
  return e;
}

}  // namespace ng::app
