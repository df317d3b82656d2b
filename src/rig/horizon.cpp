#include "rig/horizon.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace ng::rig {

Result<void> Horizon::validate() const {
  for (std::size_t i = 0; i < points.size(); ++i) {
    const auto& [azimuth, altitude] = points[i];
    if (!(azimuth >= 0 && azimuth < 360))
      return Error(Code::kInvalidInput,
                   fmt::format("horizon: azimuth {} must lie between 0 and 360 degrees, 360 being 0 again", azimuth));
    if (!(altitude >= -10 && altitude < 90))
      return Error(
          Code::kInvalidInput,
          fmt::format("horizon: altitude {} at azimuth {} must lie between -10 and 90 degrees", altitude, azimuth));
    if (i > 0 && !(azimuth > points[i - 1].azimuth_deg))
      return Error(Code::kInvalidInput,
                   fmt::format("horizon: azimuths must rise, but {} follows {}", azimuth, points[i - 1].azimuth_deg));
  }
  return {};
}

double Horizon::altitude_deg(double azimuth_deg) const {
  if (points.empty()) return 0;
  double azimuth = std::fmod(azimuth_deg, 360.0);
  if (azimuth < 0) azimuth += 360;
  const auto next = std::upper_bound(points.begin(), points.end(), azimuth,
                                     [](double wanted, const HorizonPoint& p) { return wanted < p.azimuth_deg; });
  HorizonPoint a = next == points.begin() ? points.back() : *(next - 1);
  HorizonPoint b = next == points.end() ? points.front() : *next;
  if (next == points.begin()) a.azimuth_deg -= 360;
  if (next == points.end()) b.azimuth_deg += 360;
  return std::lerp(a.altitude_deg, b.altitude_deg, (azimuth - a.azimuth_deg) / (b.azimuth_deg - a.azimuth_deg));
}

std::vector<std::string> Horizon::gaps(double degrees) const {
  std::vector<std::string> found;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double from = points[i].azimuth_deg;
    const double to = i + 1 < points.size() ? points[i + 1].azimuth_deg : points.front().azimuth_deg + 360;
    if (to - from > degrees)
      found.push_back(fmt::format("the horizon has no point from azimuth {} to {}: a straight line is drawn across",
                                  from, std::fmod(to, 360.0)));
  }
  return found;
}

}  // namespace ng::rig
