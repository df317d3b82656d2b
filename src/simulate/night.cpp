#include "simulate/night.h"

#include <cmath>

#include "base/parallel.h"
#include "rig/signal.h"

namespace ng::simulate {
namespace {

constexpr double kMarginPx = 60;  // stars just outside a frame still send light into it

SplineGrid nebula_of(const NebulaMaps& maps, const BandChannel& c) {
  const View<const float> h = maps.h_alpha.plane(), o = maps.oxygen.plane();
  Image<float> sum(h.width, h.height);
  const auto kh = static_cast<float>(c.h_alpha_e_s), ko = static_cast<float>(c.oxygen_e_s);
  for (int y = 0; y < h.height; ++y)
    for (int x = 0; x < h.width; ++x) sum.plane()(x, y) = kh * h(x, y) + ko * o(x, y);
  return {std::move(sum), maps.xi0_arcsec, maps.eta0_arcsec, maps.step_arcsec};
}

}  // namespace

Result<Night> Night::prepare(const Scenario& scenario, const catalog::StarFile* catalogue, const Context& ctx) {
  NG_CHECK(scenario.validate());
  Night night;
  night.scenario_ = scenario;
  NG_TRY(night.lights_, plan_lights(scenario));
  night.bands_ = make_bands(scenario);
  NG_TRY(night.camera_, make_camera_maps(scenario, ctx));
  night.nebula_.resize(night.bands_.size());
  if (night.lights_.empty()) return night;

  const SkyBox box = covered_sky(scenario, night.lights_, kMarginPx * scenario.scale_arcsec_px());
  night.stars_ = draw_star_field(scenario, box, catalogue);
  if (scenario.target.nebula_rayleighs > 0) {
    NG_TRY(const NebulaMaps maps, make_nebula(scenario, box, ctx));
    redden_behind_dust(maps, night.stars_);
    for (std::size_t f = 0; f < night.bands_.size(); ++f)
      for (const BandChannel& channel : night.bands_[f]) night.nebula_[f].push_back(nebula_of(maps, channel));
  }
  return night;
}

double Night::nebula_e_s(int filter, int channel, double xi_arcsec, double eta_arcsec) const {
  const auto& grids = nebula_[static_cast<std::size_t>(filter)];
  return grids.empty() ? 0 : grids[static_cast<std::size_t>(channel)].at(xi_arcsec, eta_arcsec);
}

LightTruth Night::light_truth(int light) const {
  const LightPlan& plan = lights_[static_cast<std::size_t>(light)];
  const rig::Sensor& sensor = scenario_.camera.sensor;
  const double seconds = scenario_.exposures.light_s;
  LightTruth truth;
  const double dark_rate = sensor.dark_rate_e_s(scenario_.camera.temperature_c);
  truth.dark_e = dark_rate * seconds;
  for (const BandChannel& c : bands_[static_cast<std::size_t>(plan.filter)]) {
    const double sky_rate = c.sky_e_s * plan.sky_factor;
    truth.transparency.push_back(band_transparency(c, plan.airmass, plan.clearness));
    truth.sky_e.push_back(sky_rate * seconds);
    const rig::PixelExposure pixel{0, sky_rate, dark_rate, sensor.read_noise_e, sensor.gain_e_adu, seconds};
    truth.noise_e.push_back(std::sqrt(pixel.variance_e2()));
  }
  truth.cosmic_rays = draw_cosmic_rays(scenario_, static_cast<std::uint32_t>(light), seconds);
  if (plan.satellite) {
    double sky = 0;
    for (const double e : truth.sky_e) sky += e / static_cast<double>(truth.sky_e.size());
    truth.satellites.push_back(draw_satellite(scenario_, plan, sky));
  }
  return truth;
}

double Night::flat_level_e() const {
  return scenario_.exposures.flat_level * scenario_.camera.sensor.saturation_e();
}

double Night::flat_level_e(int number) const {
  return scenario_.exposures.level_of_flat(number) * scenario_.camera.sensor.saturation_e();
}

int Night::channel_at(int x, int y) const {
  return scenario_.is_mosaic() ? bayer_plane(*scenario_.camera.sensor.bayer, x, y) : 0;
}

}  // namespace ng::simulate
