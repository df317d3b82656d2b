// math/robust.h - location and scale that a few wild values do not move.
//
// Every function ignores nothing by itself: callers drop NaN first (drop_nan). Spans are reordered in place where the
// signature takes a mutable span. Empty input is a bug of the caller.
#pragma once

#include <cstddef>
#include <span>

namespace ng::math {

// Factor from the median absolute deviation of normal data to its standard deviation: 1 / Phi^-1(3/4).
inline constexpr double kMadToSigma = 1.4826022185056018;

// Moves the finite values to the front and returns that part.
[[nodiscard]] std::span<float> drop_nan(std::span<float> values);

// Middle value; the mean of the two middle ones for an even count. Reorders.
[[nodiscard]] float median(std::span<float> values);
[[nodiscard]] double median(std::span<double> values);
// Of 1 to 8 values, none of them NaN, without a question that could be guessed wrong.
[[nodiscard]] float median_of_few(std::span<const float> values);
// Value below which the fraction q lies (0..1), linear between order statistics. Reorders.
[[nodiscard]] float quantile(std::span<float> values, double q);
// 1.4826 x median(|x - centre|). Destroys the values.
[[nodiscard]] float mad_sigma(std::span<float> values, float centre);
[[nodiscard]] double mad_sigma(std::span<double> values, double centre);

struct ClippedStats {
  double mean = 0;
  double median = 0;
  double sigma = 0;  // of the kept values, not corrected for the truncation (checks: x 0.9848 at 3 sigma)
  std::size_t kept = 0;
};
// Iterated clipping at +- kappa standard deviations around the median until nothing more falls. Reorders.
[[nodiscard]] ClippedStats clipped_stats(std::span<float> values, double kappa, int max_iterations = 20);

// Level and noise of a sky that stars and nebula brighten but nothing darkens: clipped from above only, the scale taken
// from the values below the centre, iterated. For pure noise it is the median and its standard deviation. Whole numbers
// count as spread over their step: the noise of a sky of a few ADU would else come out as 1.48 or 2.97 and nothing
// between.
struct SkyLevel {
  float level = 0;
  float sigma = 0;
};
[[nodiscard]] SkyLevel sky_level(std::span<const float> values);

// Tukey's biweight location; c counts plain MADs, as in Beers, Flynn & Gebhardt 1990 (AJ 100, 32), eq. 5.
[[nodiscard]] double biweight_location(std::span<const double> values, double c = 6.0);

}  // namespace ng::math
