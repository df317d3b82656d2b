#include "app/wcs_cards.h"

#include <fmt/format.h>

#include <regex>

#include "base/angle.h"

namespace ng::app {
namespace {

void add_polynomial(std::vector<io::FitsCard>& cards, const std::string& name, const PlanePolynomial& p, int lowest) {
  cards.push_back({name + "_ORDER", std::int64_t{p.order}, ""});
  for (int degree = lowest; degree <= p.order; ++degree)
    for (int q = 0; q <= degree; ++q)
      cards.push_back(
          {fmt::format("{}_{}_{}", name, degree - q, q), p.coefficients[PlanePolynomial::index(degree - q, q)], ""});
}

}  // namespace

std::vector<io::FitsCard> wcs_cards(const Wcs& wcs) {
  const std::string suffix = wcs.distorted() ? "-SIP" : "";
  std::vector<io::FitsCard> cards{
      {"CTYPE1", "RA---TAN" + suffix, "tangent plane"},
      {"CTYPE2", "DEC--TAN" + suffix, ""},
      {"CUNIT1", std::string("deg"), ""},
      {"CUNIT2", std::string("deg"), ""},
      {"CRPIX1", wcs.reference_x + 1, "pixel of the reference, from 1"},
      {"CRPIX2", wcs.reference_y + 1, ""},
      {"CRVAL1", rad_to_deg(wcs.ra_rad), "right ascension there"},
      {"CRVAL2", rad_to_deg(wcs.dec_rad), "declination there"},
      {"CD1_1", rad_to_deg(wcs.cd_rad[0]), "degrees per pixel"},
      {"CD1_2", rad_to_deg(wcs.cd_rad[1]), ""},
      {"CD2_1", rad_to_deg(wcs.cd_rad[2]), ""},
      {"CD2_2", rad_to_deg(wcs.cd_rad[3]), ""},
      {"LONPOLE", 180.0, "as everywhere but at +90"},
      {"RADESYS", std::string("ICRS"), ""},
  };
  if (!wcs.distorted()) return cards;
  add_polynomial(cards, "A", wcs.a, 2);
  add_polynomial(cards, "B", wcs.b, 2);
  add_polynomial(cards, "AP", wcs.ap, 0);
  add_polynomial(cards, "BP", wcs.bp, 0);
  return cards;
}

bool is_wcs_card(std::string_view name) {
  static const std::regex names(
      "(CTYPE|CRVAL|CRPIX|CDELT|CROTA|CUNIT|CRDER|CSYER)[12]|(CD|PC)[12]_[12]|(PV|PS)[12]_[0-9]+|PC00[12]00[12]|"
      "LONPOLE|LATPOLE|RADESYS|RADECSYS|EQUINOX|WCSAXES|WCSNAME|(A|B|AP|BP)_(ORDER|DMAX|[0-9]_[0-9])");
  return std::regex_match(name.begin(), name.end(), names);
}

}  // namespace ng::app
