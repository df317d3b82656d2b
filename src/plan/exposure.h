// plan/exposure.h - how long, how cold, at which gain, how often: one answer for one filter.
//
// Everything follows from rig/signal.h; what is asked of it stands beside each field. Rates are electrons per second
// and pixel, magnitudes V, brightness per square arcsecond. The prediction holds in a night as in its rehearsal:
// predicted and measured SNR agree within 5 % (tests/reference/expose_check.py).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "rig/filter.h"
#include "rig/observing_site.h"
#include "rig/rig.h"

namespace ng::plan {

// What is to be seen, above the air.
struct FaintSource {
  double mag_arcsec2 = 23.5;   // V; through filters wider than a line
  double b_minus_v = 0.65;     // its colour
  double line_rayleighs = 20;  // of an emission line; through narrow filters that hold one
};

// What is in the way.
struct Conditions {
  double airmass = 1.15;
  double sky_mag_arcsec2 = 21;  // V behind the target as seen from the ground: site, altitude, Moon, twilight together
  double dec_rad = 0;           // of the target, for the rotation of the field
  double star_density = 1;      // of the field, relative to the mean of the sky
  std::optional<double> measured_sky_e_s;  // of a test frame, in place of sky_mag_arcsec2
  std::optional<double> measured_fwhm_px;  // of a test frame, in place of the site's seeing
};

struct ExposureWish {
  double read_noise_share = 0.05;  // that read noise may add to the noise of sky and dark current
  double dark_noise_share = 0.02;  // that dark current may add to the noise of sky and readout
  double saturated_stars = 50;     // that the field may hold
  double trail_px = 0.5;           // that stars may be drawn out by
  double target_snr = 10;
  double patch_px = 1;          // pixels that the eye takes together
  double night_h = 4;           // of dark time
  std::optional<double> sub_s;  // instead of the advised one
  int darks = 30, flats = 30;   // calibration frames; lights are dithered, so that their noise averages out
  double flat_level = 0.45;     // of saturation

  [[nodiscard]] Result<void> validate() const;
};

struct GainAdvice {
  double setting = 0, gain_e_adu = 0, read_noise_e = 0, saturation_e = 0;
  double dynamic_range = 0;  // saturation over read noise
  double shortest_s = 0;
  double longest_s = 0;  // before more stars than wished saturate
  double room = 0;       // longest over shortest: the most room is the advice
};

enum class SubLimit { kReadNoise, kOverhead, kSaturation, kTracking, kWish };

struct ExposureAdvice {
  std::string filter;
  bool line = false;         // narrow: the source is an emission line
  double line_nm = 0;        // which
  double wavelength_nm = 0;  // photon-weighted mean
  double scale_arcsec_px = 0;
  double extinction_mag_airmass = 0;
  double star_v0_e_s = 0;  // of a star of V = 0 above the air, B-V 0.65
  double sky_e_s = 0, source_e_s = 0, dark_e_s = 0;
  double fwhm_px = 0, peak_share = 0;  // of a star's light, that its brightest pixel gets

  double shortest_s = 0;
  double saturating_v_mag = 0;  // the star that may just not saturate
  double longest_saturation_s = 0, longest_tracking_s = 0;
  double sub_s = 0;
  SubLimit limit = SubLimit::kReadNoise;  // what decided the sub-exposure
  double read_noise_share = 0;            // that it really adds then
  double gain_setting = 0;                // in use
  double advised_gain = 0;
  std::vector<GainAdvice> gains;

  std::optional<double> warmest_c;  // sensor temperature below which dark current adds less than wished
  double coldest_c = 0;             // that the cooler reaches on a usual night

  double sub_variance_e2 = 0;                           // of one pixel of one calibrated sub-exposure
  double sub_snr = 0;                                   // of the patch
  double subs = 0, exposure_h = 0, night_needed_h = 0;  // to the target SNR; the last with all pauses
  double night_subs = 0, night_snr = 0, two_nights_snr = 0;
  double deeper_mag = 0;  // that a second night adds
  double file_mb = 0, gigabytes = 0, night_gigabytes = 0;
  std::vector<std::string> flags;
};

// Errors: kInvalidInput (a wish out of range), kTooFew (the filter lets nothing of it through).
[[nodiscard]] Result<ExposureAdvice> advise_exposure(const rig::Rig& rig, const rig::Filter& filter,
                                                     const rig::ObservingSite& site, const FaintSource& source,
                                                     const Conditions& conditions, const ExposureWish& wish);

}  // namespace ng::plan
