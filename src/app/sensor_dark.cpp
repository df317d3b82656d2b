#include "app/sensor_dark.h"

#include <algorithm>
#include <cmath>

#include "app/sensor_pixels.h"
#include "diagnose/dark_current.h"
#include "diagnose/pixel_defects.h"

namespace ng::app {

Result<void> put_dark(std::vector<InputFrame>& frames, const std::vector<SensorStep>& steps, const DarkGround& ground,
                      View<std::uint8_t> map, SensorTemperature& t, const Context& ctx) {
  std::vector<diagnose::DarkLevel> levels;
  const View<const float> zero = ground.bias.mean();
  ctx.begin("darks", t.darks);
  for (std::size_t k = 0; k < steps.size(); ++k) {
    if (steps[k].exposure_s <= 0) continue;
    NG_TRY(const diagnose::FrameStack stack, stack_of(frames, steps[k].frames, ctx));
    NG_TRY(const auto level, diagnose::dark_level(stack.mean(), zero, steps[k].exposure_s, ctx));
    levels.push_back(level);
    if (k + 1 < steps.size() || !ground.gain_e_adu) continue;
    // The longest tells hot pixels and glow.
    const double gain = ground.gain_e_adu->value, per_s = gain / level.exposure_s;
    const double noise2 = ground.variance_adu2 + std::max(0.0, level.usual.value) / gain;
    NG_TRY(t.hot, diagnose::mark_hot(stack, zero, level.usual.value, std::sqrt(noise2), {}, map, ctx));
    t.glow_e_s = SensorFigure{level.glow * per_s, level.glow_error * per_s};
    t.glow_x = level.glow_x;
    t.glow_y = level.glow_y;
    t.glowing_percent = 100 * level.glowing_share;
    t.dark_mean_e_s = level.mean * per_s;
  }
  const double pixels = static_cast<double>(zero.width) * zero.height;
  const auto rate = diagnose::dark_rate(levels, std::sqrt(ground.variance_adu2 / ground.bias.count() / pixels));
  if (!rate || !ground.gain_e_adu) return {};
  const double gain = ground.gain_e_adu->value, gain_error = ground.gain_e_adu->error;
  t.dark_e_s =
      SensorFigure{rate->adu_s.value * gain, std::hypot(rate->adu_s.error * gain, rate->adu_s.value * gain_error)};
  t.dark_line_chi2 = rate->reduced_chi2;
  return {};
}

void put_law(SensorSetting& figures) {
  std::vector<diagnose::RateAtTemperature> rates;
  for (const SensorTemperature& t : figures.temperatures)
    if (t.known && t.dark_e_s) rates.push_back({t.temperature_c, {t.dark_e_s->value, t.dark_e_s->error}});
  const auto found = diagnose::temperature_law(rates);
  if (!found) return;
  const auto figure = [](const diagnose::Measured& m) { return SensorFigure{m.value, m.error}; };
  figures.law = SensorLaw{figure(found->energy_ev), figure(found->doubling_c), figure(found->e_s_there),
                          found->middle_c,          found->silicon_doubling_c, found->reduced_chi2};
}

}  // namespace ng::app
