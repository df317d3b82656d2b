#include "reduce/stack/weights.h"

#include <algorithm>
#include <cmath>

#include "math/robust.h"

namespace ng::reduce {
namespace {

constexpr double kFwhmOfSigma = 2.3548200450309493;

// s^2 of every frame; all alike where no width is known.
std::vector<double> squared_sigmas(std::span<const FrameWorth> frames) {
  std::vector<double> known;
  for (const FrameWorth& f : frames)
    if (f.fwhm_px > 0) known.push_back(f.fwhm_px);
  const double usual = known.empty() ? kFwhmOfSigma : math::median(std::span<double>(known));
  std::vector<double> squares;
  for (const FrameWorth& f : frames) squares.push_back(std::pow((f.fwhm_px > 0 ? f.fwhm_px : usual) / kFwhmOfSigma, 2));
  return squares;
}

void divide_by_largest(std::vector<double>& values) {
  if (values.empty()) return;
  const double largest = *std::max_element(values.begin(), values.end());
  for (double& v : values) v /= largest;
}

}  // namespace

std::vector<double> relative_information(std::span<const FrameWorth> frames, Aim aim) {
  const std::vector<double> s2 = squared_sigmas(frames);
  std::vector<double> information;
  for (std::size_t j = 0; j < frames.size(); ++j)
    information.push_back(1 / (frames[j].variance * (aim == Aim::kPoint ? s2[j] : 1)));
  divide_by_largest(information);
  return information;
}

std::vector<double> best_weights(std::span<const FrameWorth> frames, Aim aim) {
  std::vector<double> weights = relative_information(frames, aim);
  if (aim == Aim::kExtended) return weights;
  const std::vector<double> s2 = squared_sigmas(frames);
  // The power method. With widths that differ by a factor of 3 the second eigenvalue is below a third of the first, so
  // every round gains half a digit at least.
  constexpr int kRounds = 40;
  std::vector<double> next(frames.size());
  for (int round = 0; round < kRounds; ++round) {
    for (std::size_t i = 0; i < frames.size(); ++i) {
      double sum = 0;
      for (std::size_t j = 0; j < frames.size(); ++j) sum += weights[j] / (s2[i] + s2[j]);
      next[i] = sum / frames[i].variance;
    }
    weights.swap(next);
    divide_by_largest(weights);
  }
  return weights;
}

}  // namespace ng::reduce
