// catalog/star_format.h - the numbers of the star file, shared by its reader and its writer.
#pragma once

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>

#include "base/angle.h"

namespace ng::catalog {

static_assert(std::endian::native == std::endian::little, "star files are little-endian");

inline constexpr char kStarMagic[8] = {'n', 'g', 's', 't', 'a', 'r', 's', '1'};
inline constexpr std::uint32_t kStarZones = 360;
inline constexpr std::int16_t kNoColour = -32768;

struct StarFileHead {
  char magic[8];
  std::uint32_t stars;
  std::uint32_t zones;
};
struct PackedStar {
  std::uint32_t ra;
  std::int32_t dec;
  std::int16_t v_millimag;
  std::int16_t colour_millimag;
};
static_assert(sizeof(StarFileHead) == 16 && sizeof(PackedStar) == 12);

inline constexpr double kTurn = 4294967296.0;  // 2^32

// Zone of a declination, counted from the south pole.
[[nodiscard]] inline int star_zone(double dec_rad) {
  const int zone = static_cast<int>(std::floor((dec_rad + kPi / 2) / kPi * kStarZones));
  return std::clamp(zone, 0, static_cast<int>(kStarZones) - 1);
}
[[nodiscard]] inline double packed_dec_rad(std::int32_t dec) {
  return dec / kTurn * 2 * kPi;
}
[[nodiscard]] inline double packed_ra_rad(std::uint32_t ra) {
  return ra / kTurn * 2 * kPi;
}

}  // namespace ng::catalog
