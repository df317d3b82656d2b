// astrometry/test_sky.h - a small invented sky on disk and frames of it, for the tests of this folder.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>

#include "astrometry/field.h"
#include "astrometry/pose.h"
#include "catalog/sky_file.h"
#include "math/random.h"

namespace ng::astrometry {

// `count` stars evenly over the sky, magnitudes rising by 10^0.45 a magnitude to 10.
inline std::vector<catalog::SkyEntry> even_sky(int count, std::uint64_t seed) {
  math::Random random(seed, 0);
  std::vector<catalog::SkyEntry> entries;
  for (int i = 0; i < count; ++i) {
    catalog::SkyEntry e;
    e.ra_rad = 2 * kPi * random.uniform();
    e.dec_rad = std::asin(2 * random.uniform() - 1);
    e.magnitude = 10 + std::log10(1 - random.uniform()) / 0.45;
    e.position_error_rad = 0.05 / kArcsecPerRadian;
    entries.push_back(e);
  }
  return entries;
}

class WithSky : public testing::Test {
 protected:
  explicit WithSky(int stars = 40000)
      : path_(std::filesystem::temp_directory_path() /
              ("ng-sky-" + std::to_string(getpid()) + "-" +
               testing::UnitTest::GetInstance()->current_test_info()->name())) {
    const auto bytes = catalog::encode_sky_file(even_sky(stars, 9), {}, {});
    std::ofstream(path_, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes->data()), static_cast<std::streamsize>(bytes->size()));
    auto file = catalog::SkyFile::open(path_);
    if (file.ok()) sky_.emplace(std::move(file).value());
  }
  ~WithSky() override { std::filesystem::remove(path_); }
  [[nodiscard]] const catalog::SkyFile& sky() const { return *sky_; }

  // A frame 1500 x 1000 pixels, `scale_arcsec` a pixel, looking at a direction, turned; `distortion` moves a corner by
  // that share of its distance from the middle.
  [[nodiscard]] Pose look(double ra_deg, double dec_deg, double turn_deg, double scale_arcsec, int parity) const {
    const math::Vec3 z = math::from_angles(deg_to_rad(ra_deg), deg_to_rad(dec_deg));
    const math::Vec3 east = math::unit(math::cross({0, 0, 1}, z)), north = math::cross(z, east);
    const double c = std::cos(deg_to_rad(turn_deg)), s = std::sin(deg_to_rad(turn_deg));
    Pose pose;
    for (std::size_t k = 0; k < 3; ++k) {
      pose.axes[0][k] = c * east[k] + s * north[k];
      pose.axes[1][k] = -s * east[k] + c * north[k];
    }
    pose.axes[2] = z;
    pose.scale_rad = scale_arcsec / kArcsecPerRadian;
    pose.parity = parity;
    pose.middle = {749.5, 499.5};
    return pose;
  }
  [[nodiscard]] Field frame(const Pose& pose, double centroid_px, double distortion, int strangers,
                            std::uint64_t seed) const {
    math::Random random(seed, 1);
    Field field{1500, 1000, {}};
    const double half = field.diagonal_px() / 2;
    for (const auto& star : sky().brightest(pose.axes[2], std::atan(half * pose.scale_rad), 3000, 2000)) {
      const auto p = pose.pixel(star.direction);
      if (!p) continue;
      const double dx = p->x - pose.middle.x, dy = p->y - pose.middle.y;
      const double k = 1 + distortion * (dx * dx + dy * dy) / (half * half);
      const math::Point q{pose.middle.x + k * dx + centroid_px * random.normal(),
                          pose.middle.y + k * dy + centroid_px * random.normal()};
      if (field.holds(q)) field.stars.push_back({q.x, q.y, centroid_px, std::pow(10, -0.4 * star.magnitude)});
    }
    const std::size_t real = field.stars.size();
    for (int i = 0; i < strangers && real > 0; ++i)
      field.stars.push_back({1500 * random.uniform() - 0.4, 1000 * random.uniform() - 0.4, centroid_px,
                             field.stars[static_cast<std::size_t>(random.uniform() * static_cast<double>(real))].flux});
    std::sort(field.stars.begin(), field.stars.end(), [](const auto& a, const auto& b) { return a.flux > b.flux; });
    return field;
  }

 private:
  std::filesystem::path path_;
  std::optional<catalog::SkyFile> sky_;
};

}  // namespace ng::astrometry
