// plan/candidates.h - what of the catalogue this night is good for.
//
// For every object, the minutes of the night above its limit, each weighted by the information that it brings against a
// minute at the dark zenith of the same site: with the light s that arrives (1 at the zenith) and the sky b behind it
// (1 at the dark zenith), in background-limited exposures,
//   w = s^2 (S0 + B0 + C) / (s S0 + b B0 + C)
// where S0 and B0 are the electrons per second and pixel of object and dark sky at the zenith and C what neither makes:
// dark current, and read noise squared over the length of a sub-exposure. SNR^2 grows with the sum (method: information
// rate S^2 / (S + B + D + R^2/t); derived).
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"
#include "catalog/object_file.h"
#include "plan/night_steps.h"

namespace ng::plan {

// What the rig makes of the sky, through one filter.
struct Imaging {
  double sky_e_s = 1;              // B0, per pixel, at the dark zenith
  double other_e_s = 0;            // C, per pixel
  double source_zero_mag_e_s = 0;  // electrons per second and pixel of 0 mag/arcsec^2 at the zenith; 0: needs unknown
  double line_zero_mag_e_s = 0;    // the same of what shines in emission lines, all of them within V
  double scale_arcsec_px = 1.5;
  double field_width_deg = 1.5, field_height_deg = 1;
  double seeing_fwhm_arcsec = 3;
  double past_meridian_min = 0;  // the mount may track so long beyond the meridian
};

struct CandidateOptions {
  std::vector<catalog::ObjectKind> kinds;  // empty: all
  std::string constellation;               // abbreviation or name; empty: all
  double smallest_arcmin = 0;              // 0: a thirtieth of the shorter side of the field
  double largest_arcmin = 1200;
  double least_minutes = 30;  // above the limit in darkness
  bool lines_only = false;    // what a narrow filter is for
  double overlap = 0.15;      // of panels
  double snr = 10;            // wanted on a patch of the seeing's width ...
  double fainter_mag = 2;     // ... where the object is so much fainter than its mean
  std::size_t count = 20;
  // Altitude below which an azimuth is hidden or not wanted.
  std::function<double(double azimuth_rad)> limit_rad = [](double) { return 0.4363; };  // 25 degrees
  // Hours that are collected already, by the number of the object.
  std::function<double(std::uint32_t)> collected_h = [](std::uint32_t) { return 0.0; };
};

struct Candidate {
  std::uint32_t number = 0;  // in the catalogue
  // By which they are ranked, 0..1: fit x sqrt(share of the need) x use of the night x how much its list promises.
  double worth = 0;
  double dark_min = 0;  // above the limit while the Sun is 18 degrees down
  double equivalent_min = 0;
  Instant from, to;  // above the limit, Sun below -12 degrees; the longest stretch
  Instant transit;
  std::optional<Instant> flip;      // when the mount must, while it is photographed
  double highest_altitude_rad = 0;  // in that stretch
  double moon_separation_rad = 0;   // nearest, while the Moon is up; pi when it is not
  double fit = 0;                   // 0..1
  double size_px = 0;               // major axis
  int panels_across = 1, panels_up = 1;
  std::optional<double> surface_brightness;  // mag/arcsec^2
  bool brightness_assumed = false;           // from the kind alone
  std::optional<double> needed_h;      // equivalent hours for the whole object, all panels, less what is collected
  std::vector<std::uint32_t> with_it;  // other candidates in the same field
  int best_month = 1;                  // 1..12: it culminates at midnight
};

struct Candidates {
  std::vector<Candidate> best;  // by worth, no more than asked for
  std::size_t considered = 0;   // of the kinds and sizes asked for
  std::size_t too_low = 0;      // or too short
  std::size_t near_sun = 0;     // within 30 degrees: refused
};
// Errors: kInvalidInput (an option out of range, a constellation that does not exist), kCancelled.
[[nodiscard]] Result<Candidates> find_candidates(const catalog::ObjectFile& objects, const NightSteps& night,
                                                 const Imaging& imaging, const CandidateOptions& options,
                                                 const Context& ctx);

// Number of frames along a side, each overlapping the next by a share of itself.
[[nodiscard]] int panels_along(double size_deg, double field_deg, double overlap);

// The weight above.
[[nodiscard]] double minute_weight(const Imaging& imaging, double source_e_s, double light_ratio, double sky_ratio);

}  // namespace ng::plan
