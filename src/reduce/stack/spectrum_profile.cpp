#include "reduce/stack/spectrum_profile.h"

#include <cmath>

#include "base/angle.h"

namespace ng::reduce {
namespace {

// How often a column of the half spectrum stands for itself and its mirror.
double times(int column, int side) {
  return column == 0 || 2 * column == side ? 1 : 2;
}

// The profile at a place between pixels, up to a factor: the waves added up.
double height(const Image<float>& half, double dx, double dy) {
  const int side = half.height();
  const double step = 2 * kPi / side;
  double sum = 0;
  for (int j = 0; j < side; ++j) {
    const double ky = step * (2 * j > side ? j - side : j);
    double row = 0;
    for (int i = 0; i < half.width(); ++i)
      row += times(i, side) * static_cast<double>(half.plane()(i, j)) * std::cos(step * i * dx + ky * dy);
    sum += row;
  }
  return sum;
}

}  // namespace

ProfileSize profile_size(const Image<float>& half) {
  const int side = half.height();
  double squares = 0;
  for (int j = 0; j < side; ++j)
    for (int i = 0; i < half.width(); ++i)
      squares += times(i, side) * std::pow(static_cast<double>(half.plane()(i, j)), 2);
  ProfileSize size;
  size.noise_area_px = static_cast<double>(side) * side / squares;  // Parseval

  const double top = height(half, 0, 0);
  double product = 1;
  for (int direction = 0; direction < 4; ++direction) {
    const double co = std::cos(direction * kPi / 4), si = std::sin(direction * kPi / 4);
    double low = 0, high = 0.5;
    while (high < side / 4.0 && height(half, high * co, high * si) > top / 2) low = high, high *= 1.5;
    for (int step = 0; step < 12; ++step) {
      const double middle = (low + high) / 2;
      (height(half, middle * co, middle * si) > top / 2 ? low : high) = middle;
    }
    product *= low + high;
  }
  size.fwhm_px = std::pow(product, 0.25);
  return size;
}

}  // namespace ng::reduce
