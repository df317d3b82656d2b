// finish/test_scene.h - small made-up masters for the tests: gradient, nebula, stars and noise, each known.
#pragma once

#include <array>
#include <cmath>
#include <vector>

#include "base/image.h"
#include "frame/star_list.h"
#include "math/random.h"

namespace ng::finish::test {

struct SceneStar {
  double x, y, flux;
  std::array<double, 3> colour;
};

inline std::vector<SceneStar> random_stars(int width, int height, int count, double brightest, std::uint64_t seed) {
  math::Random random(seed, 1);
  std::vector<SceneStar> stars;
  for (int i = 0; i < count; ++i) {
    const double tint = random.normal() * 0.15;
    // Fluxes with a cumulative number law N(>f) ~ f^-0.9, as fields of faint stars have about.
    const double flux = brightest * std::pow(1 + 0.2 * i, -1 / 0.9);
    stars.push_back(
        {random.uniform() * width, random.uniform() * height, flux, {std::exp(tint), 1.0, std::exp(-tint)}});
  }
  return stars;
}

inline void add_stars(View<float> image, const std::vector<SceneStar>& stars, double sigma, int channel, double scale) {
  const int reach = static_cast<int>(std::ceil(6 * sigma));
  for (const SceneStar& s : stars) {
    const int cx = static_cast<int>(s.x);
    const int cy = static_cast<int>(s.y);
    const double peak =
        scale * s.flux * s.colour[static_cast<std::size_t>(channel)] / (2 * 3.14159265358979 * sigma * sigma);
    for (int y = std::max(0, cy - reach); y <= std::min(image.height - 1, cy + reach); ++y)
      for (int x = std::max(0, cx - reach); x <= std::min(image.width - 1, cx + reach); ++x) {
        const double r2 = (x - s.x) * (x - s.x) + (y - s.y) * (y - s.y);
        image(x, y) += static_cast<float>(peak * std::exp(-r2 / (2 * sigma * sigma)));
      }
  }
}

inline void add_noise(View<float> image, double sigma, std::uint64_t seed) {
  for (int y = 0; y < image.height; ++y) {
    math::Random random(seed, static_cast<std::uint64_t>(y) + 100);
    for (int x = 0; x < image.width; ++x) image(x, y) += static_cast<float>(sigma * random.normal());
  }
}

template <typename Light>  // Light(x, y)
void add_light(View<float> image, const Light& light) {
  for (int y = 0; y < image.height; ++y)
    for (int x = 0; x < image.width; ++x) image(x, y) += static_cast<float>(light(x, y));
}

inline std::vector<Star> as_list(const std::vector<SceneStar>& stars) {
  std::vector<Star> list;
  for (const SceneStar& s : stars) {
    Star star;
    star.x = s.x;
    star.y = s.y;
    star.flux = s.flux;
    list.push_back(star);
  }
  return list;
}

}  // namespace ng::finish::test
