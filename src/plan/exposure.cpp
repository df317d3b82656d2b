#include "plan/exposure.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "base/angle.h"
#include "frame/profile.h"
#include "plan/star_counts.h"
#include "rig/focus_depth.h"
#include "rig/signal.h"
#include "rig/spectrum.h"
#include "rig/tracking.h"
#include "sky/extinction.h"

namespace ng::plan {
namespace {

constexpr double kUsualColour = 0.65;     // B-V of a usual star, the Sun's
constexpr double kNarrowestBroadNm = 30;  // filters narrower than this are taken for one line, if they hold one
constexpr double kMoffatBeta = 3.5;
constexpr double kOverheadFactor = 5;  // an exposure shall last so many times as the pause after it
constexpr std::array<double, 23> kUsualSubs{1,   2,   3,   5,   8,   10,  15,  20,  30,  45,   60,  90,
                                            120, 180, 240, 300, 420, 480, 600, 720, 900, 1200, 1800};

// H-alpha, [O III], [S II], H-beta, [N II]: air wavelengths in nm (NIST ASD).
std::optional<double> line_inside(const rig::Filter& filter) {
  if (filter.width_nm > kNarrowestBroadNm) return std::nullopt;
  for (const double nm : {656.28, 500.68, 671.64, 486.13, 658.35})
    if (filter.at(nm) > filter.throughput / 2) return nm;
  return std::nullopt;
}

// Everything that does not depend on the gain setting.
struct Rates {
  rig::BandResponse usual;
  double sky = 0, source = 0, dark = 0;
};

// A band that holds all but the brightness: photons_zero is what a star of magnitude 0 gives.
rig::Band whole_band(const rig::BandResponse& response) {
  return {1, 1, 1, response.electrons_v0};
}

double filter_extinction(const rig::ObservingSite& site, double wavelength_nm) {
  const double km = site.elevation_m / 1000;
  const double clear = sky::clear_air_extinction(km, wavelength_nm);
  if (!site.extinction_mag_airmass) return clear;
  return clear * *site.extinction_mag_airmass / sky::clear_air_extinction(km, 550);
}

double star_peak_e(const ExposureAdvice& a, double v_mag, double airmass, double seconds) {
  const double star = a.star_v0_e_s * std::pow(10.0, -0.4 * (v_mag + a.extinction_mag_airmass * airmass));
  return (star * a.peak_share + a.sky_e_s + a.dark_e_s) * seconds;
}

double longest_unsaturated_s(const ExposureAdvice& a, double airmass, double saturation_e) {
  return saturation_e / star_peak_e(a, a.saturating_v_mag, airmass, 1);
}

double longest_tracked_s(const rig::Rig& rig, const Conditions& c, double trail_px) {
  const double scale = rig.scale_arcsec_px();
  const double half_diagonal_deg = std::hypot(rig.field_width_deg(), rig.field_height_deg()) / 2;
  const double trail_um = rig::field_rotation_trail_um(rig.mount.polar_error_arcmin, c.dec_rad, 1,
                                                       rig.optics.effective_focal_length_mm(), half_diagonal_deg);
  const double rotation_px_s = trail_um / rig.sensor.pixel_um;
  if (rig.guide) return rotation_px_s > 0 ? trail_px / rotation_px_s : INFINITY;
  const double drift = rig::polar_drift_arcsec_s(rig.mount.polar_error_arcmin);
  const double periodic = rig::periodic_rate_arcsec_s(rig.mount.periodic_error_arcsec, rig.mount.worm_period_s);
  const double px_s = std::hypot(drift, periodic * std::cos(c.dec_rad)) / scale + rotation_px_s;
  return px_s > 0 ? trail_px / px_s : INFINITY;
}

std::vector<GainAdvice> gain_curve(const rig::Rig& rig, const ExposureAdvice& a, const Conditions& c,
                                   const ExposureWish& wish) {
  std::vector<GainAdvice> curve;
  for (const rig::GainRow& row : rig.gains.rows) {
    const rig::Sensor sensor = rig::at_gain(rig.sensor, row);
    GainAdvice g;
    g.setting = row.setting;
    g.gain_e_adu = row.gain_e_adu;
    g.read_noise_e = row.read_noise_e;
    g.saturation_e = sensor.saturation_e();
    g.dynamic_range = rig::dynamic_range(sensor);
    g.shortest_s = rig::shortest_sub_s(row.read_noise_e, a.sky_e_s + a.dark_e_s, wish.read_noise_share);
    g.longest_s = longest_unsaturated_s(a, c.airmass, g.saturation_e);
    g.room = g.longest_s / g.shortest_s;
    curve.push_back(g);
  }
  return curve;
}

// The usual length next above what readout and pauses ask for, next below what stars and tracking allow.
void choose_sub(ExposureAdvice& a, const rig::Timing& t, const ExposureWish& wish) {
  if (wish.sub_s) {
    a.sub_s = *wish.sub_s;
    a.limit = SubLimit::kWish;
    return;
  }
  const double pause = kOverheadFactor * (t.download_s + t.dither_s / t.dither_every);
  const double least = std::max(a.shortest_s, pause), most = std::min(a.longest_saturation_s, a.longest_tracking_s);
  const auto above = std::lower_bound(kUsualSubs.begin(), kUsualSubs.end(), least);
  const double wanted = above == kUsualSubs.end() ? kUsualSubs.back() : *above;
  a.sub_s = wanted;
  a.limit = a.shortest_s >= pause ? SubLimit::kReadNoise : SubLimit::kOverhead;
  if (wanted <= most) return;
  const auto below = std::upper_bound(kUsualSubs.begin(), kUsualSubs.end(), most);
  a.sub_s = below == kUsualSubs.begin() ? most : *(below - 1);
  a.limit = a.longest_tracking_s < a.longest_saturation_s ? SubLimit::kTracking : SubLimit::kSaturation;
}

// Dark current D with sqrt(B + R^2/t + D) <= (1 + share) sqrt(B + R^2/t), and the temperature that has it.
std::optional<double> warmest_for(const rig::Sensor& sensor, const ExposureAdvice& a, double share) {
  const double others = a.sky_e_s + sensor.read_noise_e * sensor.read_noise_e / a.sub_s;
  const double allowed = others * ((1 + share) * (1 + share) - 1);
  double low = -80, high = 60;
  if (!(sensor.dark_e_s > 0) || sensor.dark_rate_e_s(high) <= allowed) return std::nullopt;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (sensor.dark_rate_e_s(middle) > allowed ? high : low) = middle;
  }
  return low;
}

// One calibrated pixel: its own noise, that of the master dark taken from it, and that of the flat it is divided by.
double calibrated_variance(const rig::Sensor& s, const ExposureAdvice& a, const ExposureWish& w) {
  const rig::PixelExposure light{a.source_e_s, a.sky_e_s, a.dark_e_s, s.read_noise_e, s.gain_e_adu, a.sub_s};
  const rig::PixelExposure dark{0, 0, a.dark_e_s, s.read_noise_e, s.gain_e_adu, a.sub_s};
  double variance = light.variance_e2();
  if (w.darks > 0) variance += dark.variance_e2() / w.darks;
  const double level = (a.source_e_s + a.sky_e_s) * a.sub_s;
  if (w.flats > 0) variance += level * level / (w.flats * w.flat_level * s.saturation_e());
  return variance;
}

void count_subs(ExposureAdvice& a, const rig::Rig& rig, const ExposureWish& w) {
  const rig::Timing& t = rig.timing;
  a.sub_variance_e2 = calibrated_variance(rig.sensor, a, w);
  a.sub_snr = a.source_e_s * a.sub_s * std::sqrt(w.patch_px / a.sub_variance_e2);
  const double cycle_s = a.sub_s + t.download_s + t.dither_s / t.dither_every;
  a.subs = std::ceil(std::pow(w.target_snr / a.sub_snr, 2));
  a.exposure_h = a.subs * a.sub_s / 3600;
  a.night_needed_h = a.subs * cycle_s / 3600;
  a.night_subs = std::floor(w.night_h * 3600 / cycle_s);
  a.night_snr = a.sub_snr * std::sqrt(a.night_subs);
  a.two_nights_snr = a.sub_snr * std::sqrt(2 * a.night_subs);
  a.deeper_mag = 2.5 * std::log10(std::sqrt(2.0));
  // 16 bits a pixel and a header; FITS 4.0 fills up to blocks of 2880 bytes.
  constexpr double kBlock = 2880;
  const double bytes = kBlock * (2 + std::ceil(2.0 * rig.sensor.width * rig.sensor.height / kBlock));
  a.file_mb = bytes / 1e6;
  a.gigabytes = a.subs * bytes / 1e9;
  a.night_gigabytes = a.night_subs * bytes / 1e9;
}

void flag(ExposureAdvice& a, const rig::Rig& rig, const ExposureWish& w) {
  if (a.shortest_s > std::min(a.longest_saturation_s, a.longest_tracking_s))
    a.flags.push_back(fmt::format("no length does it all: readout asks for {:.0f} s, {} allow{} {:.0f} s", a.shortest_s,
                                  a.longest_tracking_s < a.longest_saturation_s ? "tracking" : "bright stars",
                                  a.longest_tracking_s < a.longest_saturation_s ? "s" : "",
                                  std::min(a.longest_saturation_s, a.longest_tracking_s)));
  if (a.sub_s > a.longest_tracking_s) a.flags.emplace_back("stars will be drawn out: longer than tracking allows");
  if (a.sub_s > a.longest_saturation_s) a.flags.emplace_back("more stars will saturate than you wished");
  if (a.warmest_c && *a.warmest_c < a.coldest_c)
    a.flags.push_back(fmt::format("the cooler reaches {:.0f} C, and {:.0f} C would be needed for dark current",
                                  a.coldest_c, *a.warmest_c));
  if (a.warmest_c && rig.cooler.temperature_c > *a.warmest_c)
    a.flags.push_back(fmt::format("{:.0f} C is too warm: dark current adds more than {:.0f} % to the noise",
                                  rig.cooler.temperature_c, 100 * w.dark_noise_share));
  if (rig::sampling_of(a.scale_arcsec_px, a.fwhm_px * a.scale_arcsec_px) == rig::Sampling::kCoarse)
    a.flags.push_back(fmt::format("coarse sampling: stars are {:.1f} px wide, two are the least", a.fwhm_px));
  if (a.subs > 1e5) a.flags.emplace_back("that SNR is out of reach: choose a larger patch, or a brighter source");
}

}  // namespace

Result<void> ExposureWish::validate() const {
  struct Limit {
    const char* name;
    double value, low, high;
  };
  for (const Limit& l :
       {Limit{"the share of read noise", read_noise_share, 1e-4, 10},
        Limit{"the share of dark noise", dark_noise_share, 1e-4, 10},
        Limit{"the number of saturated stars", saturated_stars, 0.01, 1e7},
        Limit{"the trail in pixels", trail_px, 0.01, 100}, Limit{"the target SNR", target_snr, 0.01, 1e5},
        Limit{"the patch in pixels", patch_px, 1, 1e8}, Limit{"hours of the night", night_h, 0.01, 24},
        Limit{"the sub-exposure in seconds", sub_s.value_or(60), 1e-3, 7200},
        Limit{"darks", static_cast<double>(darks), 0, 1e5}, Limit{"flats", static_cast<double>(flats), 0, 1e5}})
    if (!(l.value >= l.low && l.value <= l.high))
      return Error(Code::kInvalidInput,
                   fmt::format("{} is {}: it must lie between {} and {}", l.name, l.value, l.low, l.high));
  return {};
}

Result<ExposureAdvice> advise_exposure(const rig::Rig& rig, const rig::Filter& filter, const rig::ObservingSite& site,
                                       const FaintSource& source, const Conditions& c, const ExposureWish& wish) {
  NG_CHECK(wish.validate());
  const rig::Sensor& sensor = rig.sensor;
  const auto response = [&](double colour) {
    return rig::band_response(rig.optics, filter, sensor.quantum_efficiency, colour);
  };
  ExposureAdvice a;
  a.filter = filter.name;
  a.scale_arcsec_px = rig.scale_arcsec_px();
  const rig::BandResponse usual = response(kUsualColour);
  if (!(usual.electrons_v0 > 0))
    return Error(
        Code::kTooFew,
        fmt::format("through filter {} the sensor sees nothing: its quantum efficiency is 0 there", filter.name));
  a.star_v0_e_s = usual.electrons_v0;
  a.wavelength_nm = usual.wavelength_nm;
  a.extinction_mag_airmass = filter_extinction(site, usual.wavelength_nm);

  a.dark_e_s = sensor.dark_rate_e_s(rig.cooler.temperature_c);
  a.sky_e_s = c.measured_sky_e_s.value_or(
      rig::sky_rate_e_s(whole_band(response(site.sky_b_minus_v)), a.scale_arcsec_px, c.sky_mag_arcsec2));
  const auto line = line_inside(filter);
  a.line = line.has_value();
  if (line) {
    a.line_nm = *line;
    const double throughput = rig.optics.throughput * filter.at(*line) * sensor.quantum_efficiency.at(*line) *
                              sky::transmission(a.extinction_mag_airmass, c.airmass);
    a.source_e_s = rig::line_rate_e_s(rig.optics.area_cm2(), throughput, a.scale_arcsec_px, source.line_rayleighs);
  } else {
    a.source_e_s = rig::surface_rate_e_s(whole_band(response(source.b_minus_v)), a.scale_arcsec_px, source.mag_arcsec2,
                                         a.extinction_mag_airmass, c.airmass);
  }
  const double seeing = site.seeing_fwhm_arcsec * rig::seeing_growth(c.airmass);
  a.fwhm_px = c.measured_fwhm_px.value_or(std::hypot(seeing, 2.3548 * rig.mount.guided_error_arcsec,
                                                     rig::diffraction_fwhm_arcsec(rig.optics, a.wavelength_nm)) /
                                          a.scale_arcsec_px);
  a.peak_share = Profile::round(a.fwhm_px, kMoffatBeta).over_pixel(0, 0);

  a.shortest_s = rig::shortest_sub_s(sensor.read_noise_e, a.sky_e_s + a.dark_e_s, wish.read_noise_share);
  a.saturating_v_mag =
      magnitude_of_star_number(wish.saturated_stars, rig.field_width_deg() * rig.field_height_deg(), c.star_density);
  a.longest_saturation_s = longest_unsaturated_s(a, c.airmass, sensor.saturation_e());
  a.longest_tracking_s = longest_tracked_s(rig, c, wish.trail_px);
  choose_sub(a, rig.timing, wish);
  const double photons = (a.sky_e_s + a.dark_e_s) * a.sub_s;
  a.read_noise_share = std::sqrt(1 + sensor.read_noise_e * sensor.read_noise_e / photons) - 1;
  a.gain_setting = rig.gain_setting;
  a.gains = gain_curve(rig, a, c, wish);
  a.advised_gain = std::max_element(a.gains.begin(), a.gains.end(), [](const GainAdvice& x, const GainAdvice& y) {
                     return x.room < y.room;
                   })->setting;
  a.warmest_c = warmest_for(sensor, a, wish.dark_noise_share);
  a.coldest_c = site.temperature_c - rig.cooler.largest_drop_c;
  count_subs(a, rig, wish);
  flag(a, rig, wish);
  return a;
}

}  // namespace ng::plan
