#include "sky/sidereal.h"

#include <cmath>

#include "base/angle.h"

namespace ng::sky {

double greenwich_sidereal_rad(Instant utc) {
  const double days = utc.mjd() - 51544.5;  // since J2000.0
  const double t = days / 36525;
  const double degrees = 280.46061837 + 360.98564736629 * days + t * t * (0.000387933 - t / 38710000);
  const double turn = std::fmod(degrees, 360.0);
  return deg_to_rad(turn < 0 ? turn + 360 : turn);
}

double hour_angle_rad(double ra_rad, const Observer& observer, Instant utc) {
  return -std::remainder(ra_rad - greenwich_sidereal_rad(utc) - observer.longitude_rad, 2 * kPi);
}

double altitude_rad(double ra_rad, double dec_rad, const Observer& observer, Instant utc) {
  const double h = hour_angle_rad(ra_rad, observer, utc);
  return std::asin(std::sin(observer.latitude_rad) * std::sin(dec_rad) +
                   std::cos(observer.latitude_rad) * std::cos(dec_rad) * std::cos(h));
}

}  // namespace ng::sky
