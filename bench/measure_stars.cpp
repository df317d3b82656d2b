// Measures the stars of one picture in memory, again and again on one thread: what bench/measure_stars.py holds against
// a general library.
//
//   measure_stars WIDTH HEIGHT PIXELS ROUNDS THRESHOLD SATURATION STARS
//
// PIXELS holds bare float32 in electrons, row after row. Writes x, y, flux, FWHM, SNR of every star to STARS, five
// float64 each; prints one JSON line: stars, processor_seconds of every round.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <array>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <vector>

#include "measure/stars.h"

int main(int argc, char** argv) {
  if (argc != 8) {
    fmt::print(stderr, "usage: measure_stars WIDTH HEIGHT PIXELS ROUNDS THRESHOLD SATURATION STARS\n");
    return 2;
  }
  ng::Image<float> image(std::atoi(argv[1]), std::atoi(argv[2]));
  std::ifstream pixels(argv[3], std::ios::binary);
  for (int y = 0; y < image.height(); ++y)
    pixels.read(reinterpret_cast<char*>(image.plane().row(y)),
                static_cast<std::streamsize>(sizeof(float)) * image.width());
  if (!pixels) {
    fmt::print(stderr, "{}: holds fewer than {} x {} values of float32\n", argv[3], argv[1], argv[2]);
    return 1;
  }
  ng::measure::MeasureOptions options;
  options.threshold = std::atof(argv[5]);
  options.saturation = std::atof(argv[6]);
  const ng::Context context;
  const ng::Context alone = context.serial();
  std::vector<double> seconds;
  std::ofstream out(argv[7], std::ios::binary);
  for (int round = 0; round < std::atoi(argv[4]); ++round) {
    const std::clock_t start = std::clock();
    const auto measured = ng::measure::measure_frame(image.plane(), options, alone);
    seconds.push_back(static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC);
    if (!measured.ok()) {
      fmt::print(stderr, "{}\n", measured.error().message());
      return 1;
    }
    out.seekp(0);
    for (const ng::Star& s : measured.value().list.stars) {
      const std::array<double, 5> line{s.x, s.y, s.flux, s.fwhm_px, s.snr()};
      out.write(reinterpret_cast<const char*>(line.data()), sizeof line);
    }
  }
  const auto stars = static_cast<long>(out.tellp()) / static_cast<long>(5 * sizeof(double));
  fmt::print("{{\"stars\": {}, \"processor_seconds\": [{}]}}\n", stars, fmt::join(seconds, ", "));
  return 0;
}
