#include "plan/star_counts.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace ng::plan {
namespace {

constexpr double kSkyDeg2 = 41252.96125;
constexpr double kFirstMag = 5;
constexpr std::array<double, 16> kBrighter{1620,  4850,   14300, 41000, 117000, 324000, 870000, 2270000,
                                           5.7e6, 1.38e7, 3.2e7, 7.1e7, 1.5e8,  2.96e8, 5.6e8,  1.0e9};

double log_count(double v_mag) {
  const double u = v_mag - kFirstMag;
  const auto i = static_cast<std::size_t>(std::clamp(std::floor(u), 0.0, static_cast<double>(kBrighter.size() - 2)));
  const double a = std::log10(kBrighter[i]), b = std::log10(kBrighter[i + 1]);
  return a + (b - a) * (u - static_cast<double>(i));
}

}  // namespace

double stars_per_deg2(double v_mag) {
  return std::pow(10.0, log_count(v_mag)) / kSkyDeg2;
}

double magnitude_of_star_number(double stars, double field_deg2, double density) {
  double low = -30, high = 60;  // the count rises with magnitude everywhere
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (stars_per_deg2(middle) * field_deg2 * density < stars ? low : high) = middle;
  }
  return (low + high) / 2;
}

}  // namespace ng::plan
