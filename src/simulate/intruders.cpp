#include "simulate/intruders.h"

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "math/random.h"
#include "simulate/streams.h"

namespace ng::simulate {

std::vector<CosmicRay> draw_cosmic_rays(const Scenario& s, std::uint32_t frame, double seconds) {
  const rig::Sensor& sensor = s.camera.sensor;
  math::Random random(s.seed, stream(Stream::kCosmicRays, frame));
  const double area_cm2 = sensor.width * 1e-4 * sensor.pixel_um * sensor.height * 1e-4 * sensor.pixel_um;
  const std::int64_t count = random.poisson(s.camera.cosmic_rays_cm2_min * area_cm2 * seconds / 60);
  std::vector<CosmicRay> hits;
  for (std::int64_t i = 0; i < count; ++i) {
    const double length = -7 * std::log(1 - random.uniform());
    const double angle = 2 * kPi * random.uniform();
    CosmicRay hit;
    hit.x0 = (sensor.width - 1) * random.uniform();
    hit.y0 = (sensor.height - 1) * random.uniform();
    hit.x1 = hit.x0 + length * std::cos(angle);
    hit.y1 = hit.y0 + length * std::sin(angle);
    hit.electrons = 80 * std::hypot(length * sensor.pixel_um, 15) * std::exp(0.5 * random.normal());
    hits.push_back(hit);
  }
  return hits;
}

void add_cosmic_rays(const std::vector<CosmicRay>& hits, int y0, View<float> electrons) {
  for (const CosmicRay& hit : hits) {
    if (std::max(hit.y0, hit.y1) < y0 - 1 || std::min(hit.y0, hit.y1) > y0 + electrons.height) continue;
    const int steps = std::max(1, static_cast<int>(std::ceil(4 * std::hypot(hit.x1 - hit.x0, hit.y1 - hit.y0))));
    for (int i = 0; i < steps; ++i) {
      const double t = (i + 0.5) / steps;
      const auto x = static_cast<int>(std::lround(hit.x0 + t * (hit.x1 - hit.x0)));
      const auto y = static_cast<int>(std::lround(hit.y0 + t * (hit.y1 - hit.y0))) - y0;
      if (x >= 0 && x < electrons.width && y >= 0 && y < electrons.height)
        electrons(x, y) += static_cast<float>(hit.electrons / steps);
    }
  }
}

SatelliteTrail draw_satellite(const Scenario& s, const LightPlan& light, double sky_e) {
  const rig::Sensor& sensor = s.camera.sensor;
  math::Random random(s.seed, stream(Stream::kPlan, 1));
  const double angle = 0.35 + 0.5 * random.uniform();
  const double cx = sensor.width * (0.35 + 0.3 * random.uniform());
  const double cy = sensor.height * (0.35 + 0.3 * random.uniform());
  const double reach = std::hypot(sensor.width, sensor.height);
  SatelliteTrail trail;
  trail.x0 = cx - reach * std::cos(angle);
  trail.y0 = cy - reach * std::sin(angle);
  trail.x1 = cx + reach * std::cos(angle);
  trail.y1 = cy + reach * std::sin(angle);
  trail.sigma_px = 1.1 * light.profile.fwhm_px() / 2.3548;  // a little out of focus: it is near
  trail.peak_e = 14 * std::sqrt(sky_e + sensor.read_noise_e * sensor.read_noise_e);
  return trail;
}

void add_satellite(const SatelliteTrail& trail, int y0, View<float> electrons) {
  const double length = std::hypot(trail.x1 - trail.x0, trail.y1 - trail.y0);
  const double nx = -(trail.y1 - trail.y0) / length, ny = (trail.x1 - trail.x0) / length;
  for (int y = 0; y < electrons.height; ++y)
    for (int x = 0; x < electrons.width; ++x) {
      const double d = (x - trail.x0) * nx + (y0 + y - trail.y0) * ny;
      const double q = d / trail.sigma_px;
      if (std::fabs(q) < 5) electrons(x, y) += static_cast<float>(trail.peak_e * std::exp(-0.5 * q * q));
    }
}

}  // namespace ng::simulate
