#include "sky/sun_moon.h"

#include <algorithm>
#include <cmath>

#include "base/angle.h"

namespace ng::sky {
namespace {

constexpr double kLightDayAu = 173.1446326846693;  // au that light goes in a day (IAU 2012 au, exact c)

double norm(const Vector& v) {
  return std::sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]);
}
double dot(const Vector& a, const Vector& b) {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}
Vector minus(const Vector& a, const Vector& b) {
  return {a[0] - b[0], a[1] - b[1], a[2] - b[2]};
}

// The Moon from the centre of the Earth, ICRS axes.
Vector geocentric_moon_au(const Moment& moment, double days_ago) {
  double pv[2][3];
  eraMoon98(moment.scales().tt.day, moment.scales().tt.rest - days_ago, pv);
  return {pv[0][0], pv[0][1], pv[0][2]};
}

// Where light that arrives now left a body: place_ago(days) gives the body's barycentric place so many days ago.
template <typename PlaceAgo>
BodyPlace seen(const Moment& moment, const PlaceAgo& place_ago) {
  double days = 0;
  Vector place = place_ago(days);
  for (int i = 0; i < 2; ++i) {
    days = norm(minus(place, moment.earth_and_sun().observer_au)) / kLightDayAu;
    place = place_ago(days);
  }
  return {moment.apparent_of_body(place), norm(minus(place, moment.earth_and_sun().observer_au))};
}

}  // namespace

BodyPlace sun(const Moment& moment) {
  const EarthAndSun& b = moment.earth_and_sun();
  return seen(moment, [&](double days) {
    Vector place{};
    for (int i = 0; i < 3; ++i) place[i] = b.earth_au[i] - b.earth_sun_au[i] - days * b.sun_au_day[i];
    return place;
  });
}

BodyPlace moon(const Moment& moment) {
  const EarthAndSun& b = moment.earth_and_sun();
  return seen(moment, [&](double days) {
    Vector place = geocentric_moon_au(moment, days);
    for (int i = 0; i < 3; ++i) place[i] += b.earth_au[i] - days * b.earth_au_day[i];
    return place;
  });
}

double moon_semidiameter_rad(double distance_au) {
  return std::asin(0.2725076 * 6378.137 / (distance_au * kAuKm));
}

double sun_semidiameter_rad(double distance_au) {
  return std::asin(std::sin(959.63 / kArcsecPerRadian) / distance_au);
}

MoonPhase moon_phase(const Moment& moment) {
  const Vector moon_au = geocentric_moon_au(moment, 0);
  Vector sun_au{};
  for (int i = 0; i < 3; ++i) sun_au[i] = -moment.earth_and_sun().earth_sun_au[i];
  const Vector moon_to_sun = minus(sun_au, moon_au);

  MoonPhase phase;
  const double distance = norm(moon_au);
  phase.phase_angle_rad = std::acos(std::clamp(-dot(moon_to_sun, moon_au) / (norm(moon_to_sun) * distance), -1.0, 1.0));
  phase.illuminated_fraction = (1 + std::cos(phase.phase_angle_rad)) / 2;
  phase.elongation_rad = std::acos(std::clamp(dot(sun_au, moon_au) / (norm(sun_au) * distance), -1.0, 1.0));
  // Waxing while the Moon stands east of the Sun: the pole of Sun x Moon points north of the ecliptic.
  const double eps = deg_to_rad(23.4393);
  const double y = sun_au[2] * moon_au[0] - sun_au[0] * moon_au[2], z = sun_au[0] * moon_au[1] - sun_au[1] * moon_au[0];
  phase.waxing = z * std::cos(eps) - y * std::sin(eps) > 0;
  phase.geocentric_distance_km = distance * kAuKm;
  return phase;
}

}  // namespace ng::sky
