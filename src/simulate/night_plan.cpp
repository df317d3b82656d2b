#include "simulate/night_plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "math/random.h"
#include "rig/spectrum.h"
#include "simulate/streams.h"
#include "sky/airmass.h"
#include "sky/dark_sky.h"
#include "sky/extinction.h"
#include "sky/gnomonic.h"
#include "sky/sidereal.h"

namespace ng::simulate {
namespace {

constexpr double kDownloadS = 6;  // read-out, dither and settling between two lights
constexpr double kFlipS = 240;    // turning over, centring, guiding again
constexpr double kLowestAltitudeDeg = 15;

// Filters take turns so that each is spread over a panel's time: next comes the one that lags most behind its share.
std::vector<int> filter_order(const Scenario& s) {
  const int total = s.lights_of_panel();
  std::vector<int> done(s.filters.size(), 0), order;
  for (int i = 0; i < total; ++i) {
    int next = 0;
    double most = -1e9;
    for (std::size_t f = 0; f < s.filters.size(); ++f) {
      const double lag = s.filters[f].lights * (i + 1.0) / total - done[f];
      if (done[f] < s.filters[f].lights && lag > most) {
        most = lag;
        next = static_cast<int>(f);
      }
    }
    ++done[next];
    order.push_back(next);
  }
  return order;
}

// Where the middle of a panel lies in the sky plane, in arcseconds.
math::Point panel_centre(const Scenario& s, int panel) {
  const rig::Sensor& sensor = s.camera.sensor;
  const double step = 1 - s.target.panel_overlap;
  const double column = panel % s.target.panels_across - (s.target.panels_across - 1) / 2.0;
  const double row = panel / s.target.panels_across - (s.target.panels_down - 1) / 2.0;
  return frame_from_sky(s, s.target.ra_deg, s.target.dec_deg, deg_to_rad(s.target.position_angle_deg))
      .inverse()
      .apply({(sensor.width - 1) / 2.0 + column * step * sensor.width,
              (sensor.height - 1) / 2.0 + row * step * sensor.height});
}

// The meridian passage of the target in the 24 hours after local noon of the evening.
Instant meridian_passage(const Scenario& s, const sky::Observer& observer) {
  const Instant noon = Instant::parse(s.exposures.evening)->plus_seconds(43200 - s.site.longitude_deg * 240);
  double wait = -sky::hour_angle_rad(deg_to_rad(s.target.ra_deg), observer, noon);
  if (wait < 0) wait += 2 * kPi;
  return noon.plus_seconds(wait / (2 * kPi) * 86164.0905);  // one sidereal day
}

// Oval from round seeing and a tracking error along right ascension: variances add along that axis.
SeeingProfile profile_of(const Scenario& s, double fwhm_arcsec, double tracking_arcsec, double ra_axis_rad) {
  const double scale = s.scale_arcsec_px();
  const double trail = 2.3548200450309493 * tracking_arcsec;
  return {s.air.moffat_beta, std::hypot(fwhm_arcsec, trail) / scale, fwhm_arcsec / scale, ra_axis_rad};
}

}  // namespace

math::Homography frame_from_sky(const Scenario& s, double ra_deg, double dec_deg, double position_angle_rad) {
  const sky::TangentPlane target({deg_to_rad(s.target.ra_deg), deg_to_rad(s.target.dec_deg)});
  const sky::TangentPlane frame({deg_to_rad(ra_deg), deg_to_rad(dec_deg)});
  const std::array<double, 9> m = frame.from(target);
  const double k = kArcsecPerRadian / s.scale_arcsec_px();  // pixels per radian
  const double si = std::sin(position_angle_rad), co = std::cos(position_angle_rad);
  const double cx = (s.camera.sensor.width - 1) / 2.0, cy = (s.camera.sensor.height - 1) / 2.0;
  std::array<double, 9> h{};
  const double hand = s.camera.mirrored ? -1 : 1;
  for (int i = 0; i < 3; ++i) {
    h[i] = hand * k * (si * m[3 + i] - co * m[i]) + cx * m[6 + i];
    h[3 + i] = -k * (si * m[i] + co * m[3 + i]) + cy * m[6 + i];
    h[6 + i] = m[6 + i];
  }
  // From arcseconds, and scaled so that the last coefficient is 1.
  for (int row = 0; row < 3; ++row)
    for (int col = 0; col < 2; ++col) h[3 * row + col] /= kArcsecPerRadian;
  std::array<double, 8> out{};
  for (int i = 0; i < 8; ++i) out[i] = h[i] / h[8];
  return math::Homography(out);
}

Result<std::vector<LightPlan>> plan_lights(const Scenario& s) {
  const sky::Observer observer{deg_to_rad(s.site.latitude_deg), deg_to_rad(s.site.longitude_deg)};
  const std::vector<int> order = filter_order(s);
  const int total = s.light_count();
  const double step = s.exposures.light_s + kDownloadS;
  const int flip_at = s.mount.meridian_flip ? total / 2 : total;
  const Instant begin = meridian_passage(s, observer).plus_seconds(-step * total / 2 - (total > 1 ? kFlipS / 2 : 0));
  const sky::TangentPlane target({deg_to_rad(s.target.ra_deg), deg_to_rad(s.target.dec_deg)});
  const double scale = s.scale_arcsec_px();
  const double k_visual = sky::clear_air_extinction(s.site.elevation_m / 1000, 550);

  math::Random random(s.seed, stream(Stream::kPlan));
  math::Random air(s.seed, stream(Stream::kSeeing));
  const auto either_way = [&] { return 2 * random.uniform() - 1; };
  const double believed_xi = s.mount.pointing_error_arcmin * 60 * either_way();
  const double believed_eta = s.mount.pointing_error_arcmin * 60 * either_way();
  const double after_flip_xi = 70 * scale * either_way(), after_flip_eta = 70 * scale * either_way();
  const double gradient_rad = 2 * kPi * random.uniform();
  const int cloud_at = total > 5 ? static_cast<int>(0.62 * total) : -1;
  const double cloud_width = std::max(0.8, 0.035 * total);
  const int satellite_at = s.satellite && total > 3 ? total / 4 : -1;

  const double half_width = (s.camera.sensor.width - 1) / 2.0, half_height = (s.camera.sensor.height - 1) / 2.0;
  const auto lens = s.camera.distortion == 0
                        ? nullptr
                        : std::make_shared<const math::Bend>(math::Bend::radial(
                              {half_width, half_height}, std::hypot(half_width, half_height), s.camera.distortion));

  std::vector<LightPlan> lights;
  std::vector<int> numbers(s.filters.size(), 0);
  double slow_seeing = air.normal();
  for (int i = 0; i < total; ++i) {
    LightPlan p;
    p.filter = order[static_cast<std::size_t>(i) % order.size()];
    p.panel = i / static_cast<int>(order.size());
    p.number = ++numbers[p.filter];
    p.flipped = i >= flip_at;
    p.start = begin.plus_seconds(i * step + (p.flipped ? kFlipS : 0));
    const Instant middle = p.start.plus_seconds(s.exposures.light_s / 2);
    p.altitude_rad = sky::altitude_rad(deg_to_rad(s.target.ra_deg), deg_to_rad(s.target.dec_deg), observer, middle);
    if (p.altitude_rad < deg_to_rad(kLowestAltitudeDeg))
      return Error(
          Code::kInvalidInput,
          fmt::format("{} stands {:.0f} degrees high at {} UTC from latitude {}: a rehearsal needs {} degrees; "
                      "take fewer lights, or another target or site",
                      s.target.name, rad_to_deg(p.altitude_rad), middle.iso(), s.site.latitude_deg,
                      kLowestAltitudeDeg));
    p.airmass = sky::airmass(p.altitude_rad);

    // Where it points: dither, a slow drift of the guiding, another centring after the flip.
    const double dither = s.mount.dither_px * scale;
    const math::Point panel = panel_centre(s, p.panel);
    const double xi =
        panel.x + (i == 0 ? 0 : dither * either_way()) + 0.3 * scale * i + (p.flipped ? after_flip_xi : 0);
    const double eta =
        panel.y + (i == 0 ? 0 : dither * either_way()) - 0.2 * scale * i + (p.flipped ? after_flip_eta : 0);
    const sky::Direction centre = target.direction({xi / kArcsecPerRadian, eta / kArcsecPerRadian});
    const sky::Direction believed =
        target.direction({(xi + believed_xi) / kArcsecPerRadian, (eta + believed_eta) / kArcsecPerRadian});
    p.centre_ra_deg = rad_to_deg(centre.ra_rad);
    p.centre_dec_deg = rad_to_deg(centre.dec_rad);
    p.mount_ra_deg = rad_to_deg(believed.ra_rad);
    p.mount_dec_deg = rad_to_deg(believed.dec_rad);
    const double hours = middle.seconds_since(begin) / 3600;
    p.position_angle_rad = deg_to_rad(s.target.position_angle_deg + s.mount.rotation_deg_h * hours +
                                      (p.flipped ? 180 + s.mount.flip_turn_deg : 0));
    p.from_sky =
        math::PlaneMap(nullptr, frame_from_sky(s, p.centre_ra_deg, p.centre_dec_deg, p.position_angle_rad), lens);

    // Through what air. Seeing wanders slowly, and grows with airmass^0.6 (Kolmogorov; Fried 1966).
    slow_seeing = 0.8 * slow_seeing + 0.6 * air.normal();
    const double fwhm = s.air.fwhm_arcsec * std::pow(p.airmass, 0.6) * std::exp(s.air.fwhm_scatter * slow_seeing);
    const double tracking = s.mount.tracking_arcsec * std::exp(0.35 * air.normal());
    p.profile = profile_of(s, fwhm, tracking, s.camera.mirrored ? -p.position_angle_rad : p.position_angle_rad);
    p.profile.angle_rad = std::remainder(p.profile.angle_rad, kPi);
    if (cloud_at >= 0) {
      const double away = (i - cloud_at) / cloud_width;
      p.cloud = s.air.cloud_depth * std::exp(-0.5 * away * away);
      if (p.cloud < 0.003) p.cloud = 0;
    }
    p.clearness = (1 - p.cloud) * std::exp(s.air.transparency_scatter * air.normal());
    // A cloud throws the light of the towns back: common practice, no source.
    p.sky_factor = sky::dark_sky_ratio(kPi / 2 - p.altitude_rad, k_visual) * (1 + 0.9 * p.cloud) *
                   std::exp(0.5 * s.air.transparency_scatter * air.normal());
    p.gradient = s.site.sky_gradient * (1 + 0.4 * p.cloud);
    p.gradient_rad = std::remainder(gradient_rad + 0.35 * hours + p.position_angle_rad, 2 * kPi);
    p.satellite = i == satellite_at;
    lights.push_back(p);
  }
  return lights;
}

SkyBox covered_sky(const Scenario& s, const std::vector<LightPlan>& lights, double margin_arcsec) {
  SkyBox box{1e9, -1e9, 1e9, -1e9};
  const double w = s.camera.sensor.width, h = s.camera.sensor.height;
  for (const LightPlan& light : lights) {
    const math::PlaneMap to_sky = light.from_sky.inverse();
    for (const math::Point corner : {math::Point{0, 0}, {w - 1, 0}, {0, h - 1}, {w - 1, h - 1}}) {
      const math::Point p = to_sky.apply(corner);
      box = {std::min(box.xi0, p.x), std::max(box.xi1, p.x), std::min(box.eta0, p.y), std::max(box.eta1, p.y)};
    }
  }
  return {box.xi0 - margin_arcsec, box.xi1 + margin_arcsec, box.eta0 - margin_arcsec, box.eta1 + margin_arcsec};
}

}  // namespace ng::simulate
