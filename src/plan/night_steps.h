// plan/night_steps.h - a night cut into steps: what every target of the night is held against.
//
// Sun and Moon are computed once for every step; a target then costs a few multiplications. Altitudes of targets are
// without refraction, from the apparent place of midnight: 0.1 degrees near the usual limits, less higher up.
#pragma once

#include <optional>
#include <vector>

#include "sky/night.h"
#include "sky/sky_brightness.h"
#include "sky/sun_moon.h"

namespace ng::plan {

// The sky of the site as the photon model needs it.
struct SiteSky {
  double dark_zenith_mag_arcsec2 = 21;   // V, moonless
  double extinction_mag_airmass = 0.25;  // V
};

struct NightStep {
  Instant at;  // the middle of the step
  double sidereal_rad = 0;
  double sun_altitude_rad = 0;
  double moon_altitude_rad = 0;
  sky::Vector moon{};  // unit vector, true equator and equinox of date
  double moon_phase_angle_rad = 0;
};

struct TargetAt {
  double altitude_rad = 0;
  double azimuth_rad = 0;          // from north through east
  double moon_separation_rad = 0;  //
};

class NightSteps {
 public:
  // The night that contains `utc` or follows it, in steps of step_s (60 to 3600) from sunset to sunrise; under the
  // midnight Sun there are none. Errors: kInvalidInput (a step out of range, a site that does not exist), kUnsupported.
  [[nodiscard]] static Result<NightSteps> make(Instant utc, const sky::Site& site, const SiteSky& sky, double step_s);

  [[nodiscard]] const sky::Night& night() const { return night_; }
  [[nodiscard]] const sky::Site& site() const { return site_; }
  [[nodiscard]] const SiteSky& sky() const { return sky_; }
  [[nodiscard]] const std::vector<NightStep>& steps() const { return steps_; }
  [[nodiscard]] double step_min() const { return step_s_ / 60; }
  [[nodiscard]] const sky::MoonPhase& moon_phase() const { return phase_; }  // at midnight

  // Place of date of a star, for at() and transit().
  [[nodiscard]] sky::Direction of_date(sky::Direction icrs) const { return midnight_.apparent(icrs); }
  [[nodiscard]] TargetAt at(const NightStep& step, sky::Direction of_date) const;
  // The upper culmination of the night: the one nearest to its midnight.
  [[nodiscard]] Instant transit(sky::Direction of_date) const;
  [[nodiscard]] double sun_separation_rad(sky::Direction of_date) const;

  // Brightness of the sky behind a target above the horizon, as a multiple of the dark zenith's.
  [[nodiscard]] double sky_ratio(const NightStep& step, const TargetAt& target) const;
  // Light of a target that arrives, as a share of what arrives from the zenith.
  [[nodiscard]] double light_ratio(double altitude_rad) const;

 private:
  explicit NightSteps(sky::Moment midnight) : midnight_(std::move(midnight)) {}
  sky::Moment midnight_;
  sky::Night night_;
  sky::Site site_;
  SiteSky sky_;
  sky::MoonPhase phase_;
  sky::Direction sun_;  // of date, at midnight
  double step_s_ = 300;
  std::vector<NightStep> steps_;
};

}  // namespace ng::plan
