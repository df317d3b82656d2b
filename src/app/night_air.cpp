#include "app/night_air.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include "astrometry/zero_point.h"

namespace ng::app {
namespace {

constexpr double kTransmissionError =
    0.005;  // of many stars: flats and seeing, not photons (common practice, no source)

// Light per second of the frame's own exposure, relative to the reference.
std::optional<double> clearness(const ReduceFrame& f) {
  if (!f.transmission || !(*f.transmission > 0)) return std::nullopt;
  return *f.transmission / f.exposure_s.value_or(1);
}

}  // namespace

void describe_air(ReduceReply& reply) {
  std::map<std::string, double> best;
  for (const ReduceFrame& f : reply.frames)
    if (const auto c = clearness(f)) best[f.filter] = std::max(best[f.filter], *c);
  std::map<std::string, std::vector<astrometry::AirmassPoint>> points;
  for (ReduceFrame& f : reply.frames) {
    const auto c = clearness(f);
    if (!c) continue;
    f.transparency = *c / best[f.filter];
    if (f.airmass) points[f.filter].push_back({*f.airmass, 2.5 * std::log10(*f.transparency), kTransmissionError});
  }
  for (ReduceMaster& m : reply.masters) {
    const auto e = astrometry::extinction(points[m.filter]);
    if (!e.ok()) continue;
    m.extinction = NightExtinction{e->mag_airmass, e->mag_airmass_error, e->scatter, e->frames, e->outliers};
  }
}

}  // namespace ng::app
