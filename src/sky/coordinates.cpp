#include "sky/coordinates.h"

#include <erfa.h>

#include <cmath>

namespace ng::sky {

double separation_rad(Direction a, Direction b) {
  return eraSeps(a.ra_rad, a.dec_rad, b.ra_rad, b.dec_rad);
}

double position_angle_rad(Direction from, Direction to) {
  return eraAnp(eraPas(from.ra_rad, from.dec_rad, to.ra_rad, to.dec_rad));
}

Direction moved(Direction from, double distance_rad, double position_angle) {
  const double sd = std::sin(from.dec_rad), cd = std::cos(from.dec_rad);
  const double ss = std::sin(distance_rad), cs = std::cos(distance_rad);
  const double north = cs * sd + ss * cd * std::cos(position_angle);
  const double east = ss * std::sin(position_angle);
  const double outward = cs * cd - ss * sd * std::cos(position_angle);
  return {eraAnp(from.ra_rad + std::atan2(east, outward)), std::atan2(north, std::hypot(east, outward))};
}

double parallactic_angle_rad(double hour_angle_rad, double dec_rad, double latitude_rad) {
  return eraHd2pa(hour_angle_rad, dec_rad, latitude_rad);
}

Galactic galactic(Direction icrs) {
  Galactic g;
  eraIcrs2g(icrs.ra_rad, icrs.dec_rad, &g.longitude_rad, &g.latitude_rad);
  return g;
}

Direction equinox_1875(Direction icrs) {
  double day = 0, rest = 0, matrix[3][3], from[3], to[3];
  eraEpb2jd(1875, &day, &rest);
  eraPmat76(day, rest, matrix);
  eraS2c(icrs.ra_rad, icrs.dec_rad, from);
  eraRxp(matrix, from, to);
  Direction d;
  eraC2s(to, &d.ra_rad, &d.dec_rad);
  d.ra_rad = eraAnp(d.ra_rad);
  return d;
}

}  // namespace ng::sky
