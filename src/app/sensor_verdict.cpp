#include "app/sensor_verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "diagnose/dark_current.h"
#include "plan/exposure.h"

namespace ng::app {
namespace {

double room_of(const SensorSetting& s) {
  if (!s.all.gain_e_adu || !s.all.read_noise_e || !s.all.full_well_e) return 0;
  return s.all.full_well_e->value / (s.all.read_noise_e->value * s.all.read_noise_e->value);
}

std::string name_of(const SensorSetting& s) {
  return s.gain_setting ? fmt::format("gain {:g}", *s.gain_setting) : "the one gain";
}

void choose_gain(const std::vector<SensorSetting>& settings, const SensorSetting& best, SensorVerdict& v) {
  const SensorChannel& a = best.all;
  std::string text = fmt::format("{}: {:.0f} e- of full well over {:.2f} e- of read noise", name_of(best),
                                 a.full_well_e->value, a.read_noise_e->value);
  if (std::count_if(settings.begin(), settings.end(), [](const auto& s) { return room_of(s) > 0; }) < 2) {
    v.lines.push_back(text + "; only one gain was measured, so no other can be advised");
    return;
  }
  v.gain_setting = best.gain_setting;
  text += " leave the most room between sub-exposures too short for the read noise and too long for the stars;";
  for (const SensorSetting& s : settings)
    if (&s != &best && room_of(s) > 0)
      text += fmt::format(" {} has {:.0f} % of it,", name_of(s), 100 * room_of(s) / room_of(best));
  text.back() = '.';
  v.lines.push_back(std::move(text));
}

// Where the law gives this rate, to 0.01 C; within what sensors are used at.
double temperature_of(const SensorLaw& law, double rate_e_s) {
  double low = -80, high = 60;
  while (high - low > 0.01) {
    const double middle = (low + high) / 2;
    const bool less = diagnose::law_rate(law.energy_ev.value, law.middle_c, law.e_s_there.value, middle) < rate_e_s;
    (less ? low : high) = middle;
  }
  return low;
}

void choose_temperature(const SensorSetting& best, double sub_s, SensorVerdict& v) {
  const plan::ExposureWish wish;
  const double r = best.all.read_noise_e->value;
  const double read = std::pow(1 + wish.read_noise_share, 2) - 1, dark = std::pow(1 + wish.dark_noise_share, 2) - 1;
  const double limit_e_s = r * r * dark * (1 + 1 / read) / sub_s;
  const SensorTemperature* warmest = nullptr;
  bool any = false;
  for (const SensorTemperature& t : best.temperatures) {
    if (!t.known || !t.dark_e_s) continue;
    any = true;
    if (t.dark_e_s->value <= limit_e_s) warmest = &t;
  }
  if (!any) {
    v.lines.emplace_back("no darks: no temperature can be advised");
    return;
  }
  const std::string limit = fmt::format(
      "in sub-exposures of {:g} s dark current may reach {:.3g} e-/s before it adds 2 % to "
      "the noise",
      sub_s, limit_e_s);
  if (best.law) {
    const double c = temperature_of(*best.law, limit_e_s);
    v.warmest_c = c;
    const auto &coldest = best.temperatures.front(), &hottest = best.temperatures.back();
    std::string text = fmt::format("{}: that is at {:.0f} C and below", limit, c);
    if (c > hottest.temperature_c)
      text += fmt::format(", so the warmest that was measured, {:.0f} C, will do", hottest.temperature_c);
    if (c < coldest.temperature_c)
      text +=
          fmt::format(", colder than the {:.0f} C that were measured: cool as far as you can", coldest.temperature_c);
    v.lines.push_back(text + ".");
  } else if (warmest != nullptr) {
    v.warmest_c = warmest->temperature_c;
    v.lines.push_back(
        fmt::format("{}; at {:.0f} C it is {:.3g}: cold enough. Darks at a second temperature would tell how "
                    "much warmer it may be.",
                    limit, warmest->temperature_c, warmest->dark_e_s->value));
  } else {
    v.lines.push_back(limit + "; it is more at every temperature that was measured: cool further, or expose shorter.");
  }
}

}  // namespace

SensorVerdict sensor_verdict(const std::vector<SensorSetting>& settings, double sub_s) {
  SensorVerdict v;
  const auto best = std::max_element(settings.begin(), settings.end(),
                                     [](const auto& a, const auto& b) { return room_of(a) < room_of(b); });
  if (best == settings.end() || room_of(*best) <= 0) {
    v.lines.emplace_back("gain and read noise take pairs of flats and bias frames: no advice without them");
    return v;
  }
  choose_gain(settings, *best, v);
  choose_temperature(*best, sub_s, v);
  return v;
}

}  // namespace ng::app
