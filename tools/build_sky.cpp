// build_sky STARS OUT: makes the built-in catalogue of the solver (catalog/sky_file.h) from the built-in star file
// (catalog/star_file.h).
//
// Errors: the star file stands on a grid of 1e-4 degrees, so a place is off by 0.36 / sqrt(12) = 0.1 arcsec on each
// axis of declination; proper motions are not held, and what they do is added as 30 milliarcsec a year on each axis at
// V 6, less for fainter, farther stars by 10^(-0.1 (V - 6)) (for V below 6.5 the median of the Hipparcos main
// catalogue; the slope is common practice, no source).
#include <fmt/format.h>

#include <cstdio>
#include <filesystem>
#include <fstream>

#include "base/angle.h"
#include "catalog/sky_file.h"
#include "catalog/star_file.h"

namespace {

int fail(const std::string& why) {
  fmt::print(stderr, "build_sky: {}\n", why);
  return 1;
}

int build(const std::filesystem::path& source, const std::filesystem::path& target) {
  const auto file = ng::catalog::StarFile::open(source);
  if (!file.ok()) return fail(file.error().message());
  constexpr double kMas = 1e-3 / ng::kArcsecPerRadian;
  std::vector<ng::catalog::SkyEntry> entries;
  for (const auto& star : file->cone(0, 0, 4, 99)) {
    ng::catalog::SkyEntry e;
    e.ra_rad = star.ra_rad;
    e.dec_rad = star.dec_rad;
    e.magnitude = star.v_mag;
    e.colour = star.b_minus_v;
    e.position_error_rad = 104 * kMas;
    e.motion_error_rad_year = 30 * kMas * std::pow(10, -0.1 * (star.v_mag - 6));
    entries.push_back(e);
  }
  const auto bytes = ng::catalog::encode_sky_file(entries, {}, {});
  if (!bytes.ok()) return fail(bytes.error().message());
  auto part = target;
  part += ".part";
  std::ofstream out(part, std::ios::binary);
  out.write(reinterpret_cast<const char*>(bytes->data()), static_cast<std::streamsize>(bytes->size()));
  out.close();
  if (!out) return fail(fmt::format("cannot write {}", part.string()));
  std::filesystem::rename(part, target);
  fmt::print("{} stars, {:.1f} MB\n", entries.size(), static_cast<double>(bytes->size()) / 1e6);
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    fmt::print(stderr, "use: build_sky STARS OUT\n");
    return 2;
  }
  try {
    return build(argv[1], argv[2]);
  } catch (const std::exception& error) {
    return fail(error.what());
  }
}
