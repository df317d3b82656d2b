#include "app/sensor_spatial.h"

#include <cmath>

#include "diagnose/nonuniformity.h"

namespace ng::app {

Result<void> put_dsnu(const diagnose::FrameStack& bias, double variance_adu2, SensorSetting& figures,
                      const Context& ctx) {
  SensorChannel& all = figures.all;
  const double gain = all.gain_e_adu->value;
  NG_TRY(const diagnose::SpatialVariance dark, diagnose::spatial_variance(bias.mean(), ctx));
  const double own = dark.total - variance_adu2 / bias.count();
  const double dsnu = diagnose::dsnu_e(own, gain);
  // A variance of n values has the relative error sqrt(2/n); what is left has that of the larger term.
  const double error = dsnu > 0 ? dsnu * std::sqrt(2 / dark.count) * dark.total / (2 * own) : 0;
  all.dsnu_e = SensorFigure{dsnu, std::hypot(error, dsnu * all.gain_e_adu->error / gain)};
  all.dsnu_columns_e = std::sqrt(dark.columns) * gain;
  all.dsnu_rows_e = std::sqrt(dark.rows) * gain;
  return {};
}

Result<void> put_prnu(const diagnose::FrameStack& lit, const diagnose::FrameStack& bias, double variance_adu2,
                      SensorSetting& figures, const Context& ctx) {
  const bool mosaic = !figures.channels.empty();
  const int cells = mosaic ? 4 : 1;
  double sum2 = 0, error2 = 0;
  for (int k = 0; k < cells; ++k) {
    NG_TRY(const auto bright, diagnose::local_variance(lit.mean(), mosaic ? 2 : 1, k, ctx));
    NG_TRY(const auto black, diagnose::local_variance(bias.mean(), mosaic ? 2 : 1, k, ctx));
    const double level = bright.mean - black.mean;
    const double temporal = (level / figures.all.gain_e_adu->value + variance_adu2) / lit.count();
    const double share = diagnose::prnu_share(bright.variance - temporal, black.variance - variance_adu2 / bias.count(),
                                              bright.mean, black.mean);
    const double error = share > 0 ? std::hypot(bright.error, black.error) / (2 * share * level * level) : 0;
    if (mosaic) figures.channels[static_cast<std::size_t>(k)].prnu_percent = SensorFigure{100 * share, 100 * error};
    sum2 += share * share / cells;
    error2 += error * error / (cells * cells);
  }
  figures.all.prnu_percent = SensorFigure{100 * std::sqrt(sum2), 100 * std::sqrt(error2)};
  return {};
}

}  // namespace ng::app
