#include "app/rehearse_truth.h"

#include <fmt/format.h>

#include <cmath>
#include <cstdlib>

#include "base/angle.h"
#include "math/random.h"
#include "rig/signal.h"

namespace ng::app {
namespace {

constexpr int kNebulaSamples = 240;
constexpr double kSampleRadiusPx = 4;
constexpr double kStarReachPx = 80;
constexpr double kStarlightShare = 0.003;

// Short numbers, since the document holds tens of thousands: so many decimals, or so many digits.
double decimals(double value, int count) {
  return std::strtod(fmt::format("{:.{}f}", value, count).c_str(), nullptr);
}
double digits(double value, int count) {
  return std::strtod(fmt::format("{:.{}e}", value, count - 1).c_str(), nullptr);
}

Json about() {
  return {
      {"pixels", "0-based; (0, 0) is the centre of the first pixel stored, row 0 is the top of the picture"},
      {"sky_plane",
       "gnomonic projection at target.ra_deg, target.dec_deg; xi towards east, eta towards north, both in arcseconds"},
      {"from_sky",
       "sky plane to frame pixels, exact, before the lens: w = m6 xi + m7 eta + 1, x = (m0 xi + m1 eta + m2) / w, "
       "y = (m3 xi + m4 eta + m5) / w"},
      {"lens",
       "a flat picture's pixel u is drawn at u + distortion (|u - middle| / half_diagonal_px)^2 (u - middle), "
       "middle = ((width - 1) / 2, (height - 1) / 2)"},
      {"electrons",
       "stars and nebula: in one sub-exposure at airmass 1 in clear air, before vignetting; a light holds "
       "this times its transparency times the response of the camera (see channels and filters)"},
      {"sky_e", "electrons per pixel of one sub-exposure in the middle of the frame, before vignetting"},
      {"gradient",
       "the sky at a distance p half-diagonals from the middle along gradient_deg (from x towards y) is sky_e times "
       "1 + gradient p (1 + 0.3 p)"},
      {"fwhm_px", "of the Moffat profile before pixel integration, geometric mean of the two axes"},
      {"noise_e",
       "standard deviation of a sky pixel in the middle of the frame: photons, dark current, read noise, rounding"},
      {"response_mean",
       "mean over the frame of vignetting, dust and pixel sensitivity: a flat divided by its own mean "
       "leaves the light multiplied by this; response_median alike for the median"},
      {"cosmic_rays", "rows of x0, y0, x1, y1, electrons"},
      {"nebula_samples",
       "mean over a disc of radius_px pixels where stars add less than 0.3 % (first filter, first light)"},
  };
}

Json star_columns(const simulate::Night& night) {
  const simulate::Scenario& s = night.scenario();
  Json columns = Json::object();
  for (const char* key : {"ra_deg", "dec_deg", "xi_arcsec", "eta_arcsec", "v_mag", "b_minus_v", "origin"})
    columns[key] = Json::array();
  for (const simulate::FieldStar& star : night.stars()) {
    columns["ra_deg"].push_back(decimals(star.ra_deg, 8));
    columns["dec_deg"].push_back(decimals(star.dec_deg, 8));
    columns["xi_arcsec"].push_back(decimals(star.xi_arcsec, 5));
    columns["eta_arcsec"].push_back(decimals(star.eta_arcsec, 5));
    columns["v_mag"].push_back(decimals(star.v_mag, 4));
    columns["b_minus_v"].push_back(decimals(star.b_minus_v, 3));
    columns["origin"].push_back(static_cast<int>(star.origin));
  }
  Json electrons = Json::object();
  for (const auto& channels : night.bands())
    for (const simulate::BandChannel& c : channels) {
      Json values = Json::array();
      for (const simulate::FieldStar& star : night.stars())
        values.push_back(digits(c.star_e_s(star.v_mag, star.b_minus_v) * s.exposures.light_s, 7));
      electrons[c.name] = std::move(values);
    }
  columns["electrons"] = std::move(electrons);
  return columns;
}

// Places in the sky that every light sees and where no star disturbs.
Json nebula_samples(const simulate::Night& night) {
  const simulate::Scenario& s = night.scenario();
  const double scale = s.scale_arcsec_px();
  const double width = s.camera.sensor.width, height = s.camera.sensor.height;
  const auto seen_by_all = [&](math::Point sky) {
    for (const simulate::LightPlan& light : night.lights()) {
      const math::Point p = light.from_sky.apply(sky);
      if (p.x < 20 || p.y < 20 || p.x > width - 21 || p.y > height - 21) return false;
    }
    return true;
  };
  // Light that stars send into the disc, per pixel at its rim nearest to each of them.
  const auto starlight = [&](math::Point sky) {
    const simulate::SeeingProfile& profile = night.lights().front().profile;
    const simulate::BandChannel& band = night.bands().front().front();
    double sum = 0;
    for (const simulate::FieldStar& star : night.stars()) {
      const double dx = (star.xi_arcsec - sky.x) / scale, dy = (star.eta_arcsec - sky.y) / scale;
      if (dx * dx + dy * dy > kStarReachPx * kStarReachPx) continue;
      const double near = std::max(0.0, std::hypot(dx, dy) - kSampleRadiusPx);
      sum += band.star_e_s(star.v_mag, star.b_minus_v) * s.exposures.light_s * profile.at(near, 0);
    }
    return sum;
  };
  math::Random random(s.seed, 0xA5A5);
  Json samples = Json::array();
  if (night.lights().empty()) return samples;
  const math::PlaneMap to_sky = night.lights().front().from_sky.inverse();
  for (int tries = 0; tries < 40 * kNebulaSamples && samples.size() < kNebulaSamples; ++tries) {
    const math::Point sky = to_sky.apply({width * random.uniform(), height * random.uniform()});
    const double nebula = night.nebula_e_s(0, 0, sky.x, sky.y) * s.exposures.light_s;
    if (!seen_by_all(sky) || !(starlight(sky) < kStarlightShare * nebula)) continue;
    Json electrons = Json::object();
    for (std::size_t f = 0; f < night.bands().size(); ++f)
      for (std::size_t c = 0; c < night.bands()[f].size(); ++c) {
        double sum = 0;
        int count = 0;
        for (double dy = -kSampleRadiusPx; dy <= kSampleRadiusPx; dy += 0.5)
          for (double dx = -kSampleRadiusPx; dx <= kSampleRadiusPx; dx += 0.5) {
            if (dx * dx + dy * dy > kSampleRadiusPx * kSampleRadiusPx) continue;
            sum += night.nebula_e_s(static_cast<int>(f), static_cast<int>(c), sky.x + dx * scale, sky.y + dy * scale);
            ++count;
          }
        electrons[night.bands()[f][c].name] = digits(sum / count * s.exposures.light_s, 7);
      }
    samples.push_back({{"xi_arcsec", decimals(sky.x, 4)},
                       {"eta_arcsec", decimals(sky.y, 4)},
                       {"radius_px", kSampleRadiusPx},
                       {"electrons", std::move(electrons)}});
  }
  return samples;
}

Json light_of(const simulate::Night& night, const RehearsedFrame& frame) {
  const simulate::LightPlan& p = night.lights()[static_cast<std::size_t>(frame.light)];
  const simulate::LightTruth truth = night.light_truth(frame.light);
  Json channels = Json::object();
  const auto& bands = night.bands()[static_cast<std::size_t>(p.filter)];
  for (std::size_t c = 0; c < bands.size(); ++c)
    channels[bands[c].name] = {{"transparency", digits(truth.transparency[c], 8)},
                               {"sky_e", digits(truth.sky_e[c], 8)},
                               {"noise_e", digits(truth.noise_e[c], 8)}};
  Json satellites = Json::array();
  for (const simulate::SatelliteTrail& t : truth.satellites)
    satellites.push_back(
        {{"x0", t.x0}, {"y0", t.y0}, {"x1", t.x1}, {"y1", t.y1}, {"sigma_px", t.sigma_px}, {"peak_e", t.peak_e}});
  Json hits = Json::array();
  for (const simulate::CosmicRay& h : truth.cosmic_rays)
    hits.push_back(
        {decimals(h.x0, 2), decimals(h.y0, 2), decimals(h.x1, 2), decimals(h.y1, 2), decimals(h.electrons, 0)});
  return {{"path", frame.path.generic_string()},
          {"filter", night.scenario().filters[static_cast<std::size_t>(p.filter)].filter.name},
          {"start_utc", p.start.iso()},
          {"altitude_deg", rad_to_deg(p.altitude_rad)},
          {"airmass", p.airmass},
          {"centre_ra_deg", p.centre_ra_deg},
          {"centre_dec_deg", p.centre_dec_deg},
          {"position_angle_deg", rad_to_deg(p.position_angle_rad)},
          {"panel", p.panel},
          {"flipped", p.flipped},
          {"from_sky", p.from_sky.plane().coefficients()},
          {"fwhm_px", p.profile.fwhm_px()},
          {"fwhm_major_px", p.profile.fwhm_major_px},
          {"fwhm_minor_px", p.profile.fwhm_minor_px},
          {"major_axis_deg", rad_to_deg(p.profile.angle_rad)},
          {"moffat_beta", p.profile.beta},
          {"cloud", p.cloud},
          {"clearness", p.clearness},
          {"dark_e", truth.dark_e},
          {"channels", std::move(channels)},
          {"gradient", p.gradient},
          {"gradient_deg", rad_to_deg(p.gradient_rad)},
          {"satellites", std::move(satellites)},
          {"cosmic_rays", std::move(hits)}};
}

Json camera_of(const simulate::Night& night) {
  const simulate::CameraMaps& maps = night.camera();
  const simulate::Scenario& s = night.scenario();
  Json hot = Json::array(), cold = Json::array(), dust = Json::array();
  for (const simulate::HotPixel& h : maps.hot) hot.push_back({h.x, h.y, digits(h.rate_e_s, 5)});
  for (const simulate::ColdPixel& c : maps.cold) cold.push_back({c.x, c.y, digits(c.sensitivity, 4)});
  Json telegraph = Json::array();
  for (const simulate::TelegraphPixel& p : maps.telegraph) telegraph.push_back({p.x, p.y, digits(p.step_e, 5)});
  for (const simulate::DustShadow& d : maps.dust)
    dust.push_back(
        {{"x", decimals(d.x, 3)},
         {"y", decimals(d.y, 3)},
         {"radius_px", decimals(d.radius_px, 3)},
         {"inner_px", decimals(d.inner_px, 3)},
         {"depth", decimals(d.depth, 5)},
         {"filter", d.filter < 0 ? Json(nullptr) : Json(s.filters[static_cast<std::size_t>(d.filter)].filter.name)}});
  const rig::Sensor& sensor = s.camera.sensor;
  return {{"width", sensor.width},
          {"height", sensor.height},
          {"gain_e_adu", sensor.gain_e_adu},
          {"read_noise_e", sensor.read_noise_e},
          {"offset_adu", sensor.offset_adu},
          {"bits", sensor.bits},
          {"temperature_c", s.camera.temperature_c},
          {"glow_e_s", s.camera.glow_e_s},
          {"full_well_e", sensor.full_well_e},
          {"saturation_e", sensor.saturation_e()},
          {"dark_e_s", sensor.dark_rate_e_s(s.camera.temperature_c)},
          {"vignetting", s.camera.vignetting},
          {"distortion", s.camera.distortion},
          {"half_diagonal_px", std::hypot(sensor.width - 1, sensor.height - 1) / 2},
          {"pixel_scatter", s.camera.pixel_scatter},
          {"column_scatter_adu", s.camera.column_scatter_adu},
          {"hot_pixels_x_y_e_s", std::move(hot)},
          {"cold_pixels_x_y_sensitivity", std::move(cold)},
          {"telegraph_pixels_x_y_step_e", std::move(telegraph)},
          {"dust", std::move(dust)}};
}

}  // namespace

Json truth_of(const simulate::Night& night, const std::vector<RehearsedFrame>& frames) {
  const simulate::Scenario& s = night.scenario();
  Json filters = Json::array(), lights = Json::array();
  for (std::size_t f = 0; f < s.filters.size(); ++f) {
    Json channels = Json::array();
    for (const simulate::BandChannel& c : night.bands()[f])
      channels.push_back({{"name", c.name}, {"extinction_mag_airmass", c.extinction_mag_airmass}});
    filters.push_back({{"name", s.filters[f].filter.name},
                       {"lights", s.filters[f].lights},
                       {"flat_level_e", night.flat_level_e()},
                       {"response_mean", night.camera().mean_response[f]},
                       {"response_median", night.camera().median_response[f]},
                       {"channels", std::move(channels)}});
  }
  for (const RehearsedFrame& frame : frames)
    if (frame.light >= 0) lights.push_back(light_of(night, frame));
  return {
      {"about", about()},
      {"seed", s.seed},
      {"site", {{"name", s.site.name}, {"latitude_deg", s.site.latitude_deg}, {"longitude_deg", s.site.longitude_deg}}},
      {"target", {{"name", s.target.name}, {"ra_deg", s.target.ra_deg}, {"dec_deg", s.target.dec_deg}}},
      {"exposure_s", s.exposures.light_s},
      {"flat_s", s.exposures.flat_s},
      {"scale_arcsec_px", s.scale_arcsec_px()},
      {"filters", std::move(filters)},
      {"camera", camera_of(night)},
      {"lights", std::move(lights)},
      {"nebula_samples", nebula_samples(night)},
      {"star_origins", {"catalogue", "cluster", "field"}},
      {"stars", star_columns(night)}};
}

}  // namespace ng::app
