#include "app/wcs_cards.h"

#include <fmt/format.h>

#include <cmath>
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

namespace {

// Terms that a header leaves out are zero.
PlanePolynomial polynomial_of(const io::FitsCards& cards, const std::string& name) {
  PlanePolynomial p;
  const auto order = cards.integer(name + "_ORDER");
  if (!order || *order < 0 || *order > 9) return p;
  p.order = static_cast<int>(*order);
  p.coefficients.assign(PlanePolynomial::count(p.order), 0);
  for (int degree = 0; degree <= p.order; ++degree)
    for (int q = 0; q <= degree; ++q)
      p.coefficients[PlanePolynomial::index(degree - q, q)] =
          cards.number(fmt::format("{}_{}_{}", name, degree - q, q)).value_or(0);
  return p;
}

// CD, or PC and CDELT, or CDELT and CROTA2 (Paper I, sections 2 and 6); degrees.
std::optional<std::array<double, 4>> linear_of(const io::FitsCards& cards) {
  const auto at = [&](const char* name, double otherwise) { return cards.number(name).value_or(otherwise); };
  if (cards.find("CD1_1") != nullptr || cards.find("CD1_2") != nullptr)
    return std::array{at("CD1_1", 0), at("CD1_2", 0), at("CD2_1", 0), at("CD2_2", 0)};
  const auto x = cards.number("CDELT1"), y = cards.number("CDELT2");
  if (!x || !y) return std::nullopt;
  if (cards.find("PC1_1") != nullptr || cards.find("PC1_2") != nullptr)
    return std::array{*x * at("PC1_1", 1), *x * at("PC1_2", 0), *y * at("PC2_1", 0), *y * at("PC2_2", 1)};
  const double turn = deg_to_rad(at("CROTA2", 0)), c = std::cos(turn), s = std::sin(turn);
  return std::array{*x * c, -*y * s, *x * s, *y * c};
}

}  // namespace

std::optional<Wcs> wcs_of_cards(const io::FitsCards& cards) {
  const std::string type = cards.text("CTYPE1").value_or(""), other = cards.text("CTYPE2").value_or("");
  if (!type.starts_with("RA---TAN") || !other.starts_with("DEC--TAN")) return std::nullopt;
  const auto ra = cards.number("CRVAL1"), dec = cards.number("CRVAL2");
  const auto x = cards.number("CRPIX1"), y = cards.number("CRPIX2");
  const auto linear = linear_of(cards);
  if (!ra || !dec || !x || !y || !linear || std::fabs(*dec) > 90) return std::nullopt;
  if (!(std::fabs((*linear)[0] * (*linear)[3] - (*linear)[1] * (*linear)[2]) > 1e-14)) return std::nullopt;
  Wcs wcs;
  wcs.reference_x = *x - 1;
  wcs.reference_y = *y - 1;
  wcs.ra_rad = deg_to_rad(*ra);
  wcs.dec_rad = deg_to_rad(*dec);
  for (std::size_t k = 0; k < 4; ++k) wcs.cd_rad[k] = deg_to_rad((*linear)[k]);
  if (type.ends_with("-SIP")) {
    wcs.a = polynomial_of(cards, "A");
    wcs.b = polynomial_of(cards, "B");
    wcs.ap = polynomial_of(cards, "AP");
    wcs.bp = polynomial_of(cards, "BP");
  }
  return wcs;
}

bool is_wcs_card(std::string_view name) {
  static const std::regex names(
      "(CTYPE|CRVAL|CRPIX|CDELT|CROTA|CUNIT|CRDER|CSYER)[12]|(CD|PC)[12]_[12]|(PV|PS)[12]_[0-9]+|PC00[12]00[12]|"
      "LONPOLE|LATPOLE|RADESYS|RADECSYS|EQUINOX|WCSAXES|WCSNAME|(A|B|AP|BP)_(ORDER|DMAX|[0-9]_[0-9])");
  return std::regex_match(name.begin(), name.end(), names);
}

}  // namespace ng::app
