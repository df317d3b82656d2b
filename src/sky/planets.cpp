#include "sky/planets.h"

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "sky/coordinates.h"
#include "sky/planet_terms.h"

namespace ng::sky {
namespace {

constexpr double kLightDayAu = 173.1446326846693;
constexpr double kMillennium = 365250;

double dot(const Vector& a, const Vector& b) {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}
double norm(const Vector& v) {
  return std::sqrt(dot(v, v));
}

// VSOP87's dynamical ecliptic and equinox J2000 to the equator of FK5 (the authors' file vsop87.doc), which is ICRS to
// 0.03 arcsec.
Vector equatorial(const Vector& v) {
  return {v[0] + 0.000000440360 * v[1] - 0.000000190919 * v[2],
          -0.000000479966 * v[0] + 0.917482137087 * v[1] - 0.397776982902 * v[2],
          0.397776982902 * v[1] + 0.917482137087 * v[2]};
}

// Semidiameter at 1 au, arcsec.
constexpr double kSemidiameter[] = {3.36, 8.34, 4.68, 98.44, 82.73, 35.02, 33.50};

// Saturn's pole, IAU 2009 (Archinal et al. 2011), J2000; its motion of 0.04 degrees a century does not matter here.
constexpr Direction kSaturnPole{deg_to_rad(40.589), deg_to_rad(83.537)};

double ring_sine(const Vector& earth_to_saturn) {
  double pole[3];
  eraS2c(kSaturnPole.ra_rad, kSaturnPole.dec_rad, pole);
  return -dot({pole[0], pole[1], pole[2]}, earth_to_saturn) / norm(earth_to_saturn);
}

}  // namespace

std::string_view planet_name(Planet planet) {
  constexpr std::string_view kNames[] = {"Mercury", "Venus", "Mars", "Jupiter", "Saturn", "Uranus", "Neptune"};
  return kNames[static_cast<int>(planet)];
}

Vector heliocentric_au(Planet which, double millennia) {
  double sums[3] = {};
  for (const PlanetTerm& term : planet_terms()) {
    if (term.planet != static_cast<int>(which)) continue;
    double power = 1;
    for (int i = 0; i < term.power; ++i) power *= millennia;
    sums[term.quantity] += power * term.amplitude * std::cos(term.phase_rad + term.frequency_rad * millennia);
  }
  const double across = sums[2] * std::cos(sums[1]);
  return equatorial({across * std::cos(sums[0]), across * std::sin(sums[0]), sums[2] * std::sin(sums[1])});
}

double planet_magnitude(Planet which, double sun_au, double earth_au, double phase_angle_rad, double ring) {
  const double i = rad_to_deg(phase_angle_rad);
  const double distances = 5 * std::log10(sun_au * earth_au);
  switch (which) {
    case Planet::kMercury:
      return distances - 0.42 + i * (0.0380 + i * (-0.000273 + i * 0.000002));
    case Planet::kVenus:
      return distances - 4.40 + i * (0.0009 + i * (0.000239 - i * 0.00000065));
    case Planet::kMars:
      return distances - 1.52 + 0.016 * i;
    case Planet::kJupiter:
      return distances - 9.40 + 0.005 * i;
    case Planet::kSaturn:
      return distances - 8.88 + 0.044 * i - 2.60 * std::fabs(ring) + 1.25 * ring * ring;
    case Planet::kUranus:
      return distances - 7.19;
    case Planet::kNeptune:
      return distances - 6.87;
  }
  return 0;
}

PlanetPlace planet(const Moment& moment, Planet which) {
  const EarthAndSun& b = moment.earth_and_sun();
  const double now = (moment.scales().tt.day - 2451545.0 + moment.scales().tt.rest) / kMillennium;
  Vector from_sun{}, from_site{}, place{};
  double days = 0;
  for (int step = 0; step < 3; ++step) {
    from_sun = heliocentric_au(which, now - days / kMillennium);
    for (int i = 0; i < 3; ++i) {
      place[i] = b.earth_au[i] - b.earth_sun_au[i] - days * b.sun_au_day[i] + from_sun[i];
      from_site[i] = place[i] - b.observer_au[i];
    }
    days = norm(from_site) / kLightDayAu;
  }
  PlanetPlace p;
  p.body = {moment.apparent_of_body(place), norm(from_site)};
  eraC2s(from_site.data(), &p.astrometric.ra_rad, &p.astrometric.dec_rad);
  p.astrometric.ra_rad = eraAnp(p.astrometric.ra_rad);
  const double sun_au = norm(from_sun);
  const double phase = std::acos(std::clamp(dot(from_sun, from_site) / (sun_au * p.body.distance_au), -1.0, 1.0));
  p.illuminated_fraction = (1 + std::cos(phase)) / 2;
  p.elongation_rad = separation_rad(p.body.apparent, sun(moment).apparent);
  p.v_mag =
      planet_magnitude(which, sun_au, p.body.distance_au, phase, which == Planet::kSaturn ? ring_sine(from_site) : 0);
  p.diameter_rad = 2 * kSemidiameter[static_cast<int>(which)] / kArcsecPerRadian / p.body.distance_au;
  return p;
}

}  // namespace ng::sky
