// frame/bayer.h - the colour filter mosaic on a sensor.
//
// The pattern names the filters of the first two stored rows: kRggb means R at (0,0), G at (1,0), G at (0,1), B at
// (1,1). Nothing in nightglass guesses a pattern: a frame without one is mono, or is asked about.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

namespace ng {

enum class BayerPattern : std::uint8_t { kRggb, kBggr, kGrbg, kGbrg };

// Plane of the filter over a pixel: 0 red, 1 green, 2 blue.
[[nodiscard]] constexpr int bayer_plane(BayerPattern pattern, int x, int y) {
  constexpr int kPlanes[4][4] = {{0, 1, 1, 2}, {2, 1, 1, 0}, {1, 0, 2, 1}, {1, 2, 0, 1}};
  return kPlanes[static_cast<int>(pattern)][(y & 1) * 2 + (x & 1)];
}
// The pattern as seen when the first stored pixel is (dx, dy) of the pattern given (crops, bands).
[[nodiscard]] BayerPattern bayer_shifted(BayerPattern pattern, int dx, int dy);
// The pattern after turning the image upside down (row `height - 1` becomes row 0).
[[nodiscard]] BayerPattern bayer_flipped(BayerPattern pattern, int height);

[[nodiscard]] std::optional<BayerPattern> parse_bayer(std::string_view text);  // "RGGB", any case; nothing else
[[nodiscard]] std::string_view to_string(BayerPattern pattern);                // "RGGB"

}  // namespace ng
