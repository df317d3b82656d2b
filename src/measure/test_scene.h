// measure/test_scene.h - small skies with known truth. For tests only: independent of simulate/, which lies above.
#pragma once

#include <cmath>
#include <vector>

#include "base/image.h"
#include "frame/profile.h"
#include "math/random.h"

namespace ng::measure::test {

struct TrueStar {
  double x, y, flux;
};

struct Scene {
  Image<float> image;
  std::vector<TrueStar> stars;
};

// Mean of the profile over a pixel from 8 x 8 points: finer than what the code under test uses.
inline double fine_over_pixel(const Profile& p, double dx, double dy) {
  double sum = 0;
  for (int j = 0; j < 8; ++j)
    for (int i = 0; i < 8; ++i) sum += p.at(dx + (i - 3.5) / 8, dy + (j - 3.5) / 8);
  return sum / 64;
}

inline void add_star(View<float> image, const Profile& profile, const TrueStar& star, int reach) {
  const int cx = static_cast<int>(std::lround(star.x));
  const int cy = static_cast<int>(std::lround(star.y));
  for (int y = std::max(0, cy - reach); y <= std::min(image.height - 1, cy + reach); ++y)
    for (int x = std::max(0, cx - reach); x <= std::min(image.width - 1, cx + reach); ++x)
      image(x, y) += static_cast<float>(star.flux * fine_over_pixel(profile, x - star.x, y - star.y));
}

// Photon noise of the light plus Gaussian read noise, in electrons.
inline void add_noise(View<float> image, double read_noise, std::uint64_t stream) {
  math::Random random(2024, stream);
  for (int y = 0; y < image.height; ++y)
    for (int x = 0; x < image.width; ++x)
      image(x, y) = static_cast<float>(static_cast<double>(random.poisson(image(x, y))) + read_noise * random.normal());
}

// A grid of stars of one flux, each at a random place within its pixel.
inline Scene star_grid(int columns, int rows, int pitch, const Profile& profile, double flux, double sky,
                       double read_noise, std::uint64_t stream) {
  Scene scene{Image<float>((columns + 1) * pitch, (rows + 1) * pitch, 1, static_cast<float>(sky)), {}};
  math::Random random(77, stream);
  for (int j = 1; j <= rows; ++j)
    for (int i = 1; i <= columns; ++i)
      scene.stars.push_back({i * pitch + random.uniform() - 0.5, j * pitch + random.uniform() - 0.5, flux});
  for (const TrueStar& s : scene.stars) add_star(scene.image.plane(), profile, s, pitch / 2);
  add_noise(scene.image.plane(), read_noise, stream);
  return scene;
}

// Standard deviation of an unbiased position along x (Cramer-Rao): Fisher sum over the pixels, sky and read noise
// included.
inline double position_bound(const Profile& p, double flux, double sky, double read_noise) {
  double information = 0;
  for (int y = -25; y <= 25; ++y) {
    for (int x = -25; x <= 25; ++x) {
      const double h = 0.01;
      const double slope = flux * (fine_over_pixel(p, x + h, y) - fine_over_pixel(p, x - h, y)) / (2 * h);
      information += slope * slope / (flux * fine_over_pixel(p, x, y) + sky + read_noise * read_noise);
    }
  }
  return 1 / std::sqrt(information);
}

// Signal to noise of the flux with optimal weights.
inline double flux_snr(const Profile& p, double flux, double sky, double read_noise) {
  double information = 0;
  for (int y = -25; y <= 25; ++y)
    for (int x = -25; x <= 25; ++x) {
      const double value = fine_over_pixel(p, x, y);
      information += value * value / (flux * value + sky + read_noise * read_noise);
    }
  return flux * std::sqrt(information);
}

}  // namespace ng::measure::test
