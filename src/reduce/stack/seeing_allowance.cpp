#include "reduce/stack/seeing_allowance.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/robust.h"

namespace ng::reduce {
namespace {

// Variance of a pixel's square, 1/12 px^2, as the square of a Gaussian's FWHM.
constexpr double kPixelFwhm2 = 8 * 0.69314718056 / 12;
// The median of the frames' heights is not the height at their median width, and widths are known to some per cent.
constexpr double kMargin = 1.25;
// A star's light at 1.5 FWHM from its middle is 1 to 4 % of its peak, for Gaussians to Moffat profiles of beta 2.5.
constexpr double kReachOfFwhm = 1.5;

}  // namespace

SeeingSpread seeing_spread(std::span<const double> fwhm_px) {
  std::vector<double> known;
  for (const double f : fwhm_px)
    if (f > 0) known.push_back(f);
  if (known.size() < 2) return {};
  const auto [least, most] = std::minmax_element(known.begin(), known.end());
  const double sharpest2 = *least * *least + kPixelFwhm2, widest2 = *most * *most + kPixelFwhm2;
  const double usual = math::median(std::span<double>(known));
  const double usual2 = usual * usual + kPixelFwhm2;
  SeeingSpread spread;
  spread.share = kMargin * std::max(usual2 / sharpest2 - 1, 1 - usual2 / widest2);
  spread.reach_px = std::max(2, static_cast<int>(std::lround(kReachOfFwhm * usual)));
  return spread;
}

void add_seeing_allowance(std::span<const float> median, const SeeingSpread& spread, float kappa, float slope_allowance,
                          float* slope) {
  if (!(spread.share > 0 && kappa > 0 && slope_allowance > 0)) return;
  const auto reach = static_cast<std::size_t>(spread.reach_px);
  const float factor = static_cast<float>(spread.share) / (kappa * slope_allowance);
  for (std::size_t x = reach; x + reach < median.size(); ++x) {
    const float out = median[x] - 0.5f * (median[x - reach] + median[x + reach]);
    const float allowance = out > 0 ? factor * out : 0;  // NaN: none
    slope[x] = std::sqrt(slope[x] * slope[x] + allowance * allowance);
  }
}

}  // namespace ng::reduce
