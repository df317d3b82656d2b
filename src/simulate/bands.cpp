#include "simulate/bands.h"

#include <algorithm>
#include <cmath>

#include "rig/signal.h"
#include "rig/spectrum.h"
#include "sky/extinction.h"

namespace ng::simulate {
namespace {

constexpr double kFirstColour = -0.4, kColourStep = 0.1;

BandChannel make_channel(const Scenario& s, const rig::Filter& filter) {
  BandChannel c;
  c.name = filter.name;
  const rig::Curve& efficiency = s.camera.sensor.quantum_efficiency;
  const auto response = [&](double b_minus_v) { return rig::band_response(s.optics, filter, efficiency, b_minus_v); };
  c.extinction_mag_airmass = sky::clear_air_extinction(s.site.elevation_m / 1000, response(0.65).wavelength_nm);
  const double at_zenith = sky::transmission(c.extinction_mag_airmass, 1);
  for (std::size_t i = 0; i < c.v0_e_s.size(); ++i)
    c.v0_e_s[i] = response(kFirstColour + kColourStep * static_cast<double>(i)).electrons_v0 * at_zenith;

  const double scale = s.scale_arcsec_px();
  // The sky as seen from the ground needs no air taken away again. Its spectrum is taken as smooth as a star's.
  c.sky_e_s =
      response(s.site.sky_b_minus_v).electrons_v0 * scale * scale * std::pow(10.0, -0.4 * s.site.sky_mag_arcsec2);
  const LineThroughput lines = line_throughput([&](double nm) { return filter.at(nm) * efficiency.at(nm); });
  const double optics = s.optics.throughput * at_zenith;
  c.h_alpha_e_s = rig::line_rate_e_s(s.optics.area_cm2(), optics * lines.h_alpha_group, scale, 1);
  c.oxygen_e_s = rig::line_rate_e_s(s.optics.area_cm2(), optics * lines.oxygen_group, scale, 1);
  return c;
}

}  // namespace

double BandChannel::star_e_s(double v_mag, double b_minus_v) const {
  const double u = std::clamp((b_minus_v - kFirstColour) / kColourStep, 0.0, static_cast<double>(v0_e_s.size() - 1));
  const std::size_t i = std::min(static_cast<std::size_t>(u), v0_e_s.size() - 2);
  const double t = u - static_cast<double>(i);
  return (v0_e_s[i] * (1 - t) + v0_e_s[i + 1] * t) * std::pow(10.0, -0.4 * v_mag);
}

std::vector<std::vector<BandChannel>> make_bands(const Scenario& s) {
  std::vector<std::vector<BandChannel>> bands;
  for (const FilterPlan& plan : s.filters) {
    std::vector<BandChannel> channels;
    if (s.is_mosaic()) {
      for (const rig::Filter& dye : s.mosaic) channels.push_back(make_channel(s, dye));
    } else {
      channels.push_back(make_channel(s, plan.filter));
    }
    bands.push_back(std::move(channels));
  }
  return bands;
}

double band_transparency(const BandChannel& channel, double airmass, double clearness) {
  return clearness * sky::transmission(channel.extinction_mag_airmass, airmass - 1);
}

}  // namespace ng::simulate
