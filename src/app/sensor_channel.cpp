#include "app/sensor_channel.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace ng::app {
namespace {

constexpr double kScatter = 3;       // reduced chi-square from which points do not fit one line
constexpr double kHeaderOff = 0.05;  // share by which the header's gain may differ before it is told

SensorFigure figure(const diagnose::Measured& m) {
  return {m.value, m.error};
}

void put_full_well(const diagnose::TransferFit& fit, SensorChannel& c) {
  const double g = fit.gain_e_adu.value, share = fit.gain_e_adu.error / g;
  const double well = fit.ceiling_adu.value_or(fit.saturation_adu) * g;
  c.full_well_e = SensorFigure{well, well * share};
  c.full_well_is_limit = !fit.ceiling_adu && !fit.saturated;
  if (fit.saturated) c.saturation_e = fit.saturation_adu * g;
}

}  // namespace

SensorChannel channel_of(const std::vector<diagnose::TransferPoint>& points, const diagnose::DarkNoise& dark,
                         bool with_linearity) {
  SensorChannel c;
  const auto fit = diagnose::fit_transfer(points, dark);
  for (std::size_t i = 0; i < points.size(); ++i)
    c.points.push_back({points[i].exposure_s, points[i].signal_adu, points[i].variance_adu2, fit && fit->used[i]});
  if (!fit) return c;
  c.gain_e_adu = figure(fit->gain_e_adu);
  c.reduced_chi2 = fit->reduced_chi2;
  const auto noise = diagnose::read_noise(dark, fit->gain_e_adu);
  c.read_noise_e = figure(noise.electrons);
  c.read_noise_is_limit = noise.upper_limit;
  put_full_well(*fit, c);
  const double dark_noise_e = std::sqrt(dark.variance_adu2) * fit->gain_e_adu.value;
  c.dynamic_range = diagnose::dynamic_range(c.full_well_e->value, dark_noise_e);
  c.dynamic_range_db = 20 * std::log10(*c.dynamic_range);
  c.snr_max = std::sqrt(c.full_well_e->value);
  if (!with_linearity) return c;
  if (const auto line = diagnose::linearity(points, fit->ceiling_adu.value_or(fit->saturation_adu))) {
    c.linearity_percent = line->mean_percent;
    c.linearity_worst_percent = line->worst_percent;
    c.lamp_percent = line->lamp_percent;
    c.deviation_exposure_s = line->exposure_s;
    c.deviation_percent = line->deviation_percent;
  }
  return c;
}

void join_linearity(const std::vector<SensorChannel>& channels, SensorChannel& all) {
  double count = 0;
  for (const SensorChannel& c : channels) {
    if (!c.linearity_percent) continue;
    all.linearity_percent = all.linearity_percent.value_or(0) + *c.linearity_percent;
    all.linearity_worst_percent = std::max(all.linearity_worst_percent.value_or(0), *c.linearity_worst_percent);
    all.lamp_percent = std::max(all.lamp_percent.value_or(0), *c.lamp_percent);
    count += 1;
  }
  if (count > 0) *all.linearity_percent /= count;
}

void explain_channel(const SensorChannel& all, const FrameFacts& facts, std::vector<std::string>& flags) {
  if (all.points.empty()) {
    flags.emplace_back("no pairs of flats: no gain; take two flats at each of ten exposures, from dim to overexposed");
    return;
  }
  if (!all.gain_e_adu) {
    flags.emplace_back(
        "the noise of the flats does not rise with their light: no gain; all of them may be overexposed");
    return;
  }
  if (all.full_well_is_limit)
    flags.emplace_back("the flats do not reach saturation: the full well is larger than told; add overexposed pairs");
  if (all.read_noise_is_limit)
    flags.emplace_back("rounding to whole ADU hides the read noise: it is below what is told");
  if (all.reduced_chi2 > kScatter)
    flags.push_back(
        fmt::format("the points of the photon transfer scatter {:.1f} times more than their noise: the gain "
                    "is less sure than pixels alone would make it, which its error shows",
                    std::sqrt(all.reduced_chi2)));
  if (!all.linearity_percent)
    flags.emplace_back("fewer than 4 exposures between 5 and 95 % of saturation: no linearity");
  else if (*all.linearity_percent < *all.lamp_percent)
    flags.push_back(
        fmt::format("the lamp changed by {:.2f} % from flat to flat: a smaller linearity error is that of the "
                    "lamp",
                    *all.lamp_percent));
  const double measured = all.gain_e_adu->value;
  if (facts.electrons_per_adu && std::fabs(*facts.electrons_per_adu / measured - 1) > kHeaderOff)
    flags.push_back(fmt::format("the headers state {:g} electrons per ADU, measured are {:.4g}",
                                *facts.electrons_per_adu, measured));
}

}  // namespace ng::app
