// catalog/sky_format.h - the numbers of the sky file, shared by its reader and its writer.
#pragma once

#include <bit>
#include <cstdint>

#include "base/angle.h"
#include "catalog/sky_cells.h"

namespace ng::catalog {

static_assert(std::endian::native == std::endian::little, "sky files are little-endian");

inline constexpr char kSkyMagic[8] = {'n', 'g', 's', 'k', 'y', '0', '0', '1'};
inline constexpr double kSkyTurn = 4294967296.0;  // 2^32
inline constexpr double kMilliarcsec = 1e-3 / kArcsecPerRadian;
inline constexpr std::int16_t kSkyNoColour = -32768;
inline constexpr int kFirstOrder = 2;
inline constexpr int kLevelShare = 10;  // stars of a cell that a level brings it to; the odd levels to twice as many

struct SkyHead {
  char magic[8];
  char band[8];
  double epoch_year;
  double reach_mag;
  double covered_deg2;
  std::uint32_t levels;
  std::uint32_t cells;  // with one closing entry for each level
  std::uint32_t stars;
  std::uint32_t patterns;
};
static_assert(sizeof(SkyHead) == 56);

struct SkyLevel {
  std::uint32_t order;
  std::uint32_t first_cell;  // index into the cells; the entry behind the last closes it
  std::uint32_t cells;
  std::uint32_t stars;
};
// Only cells that hold stars are listed, in order of their number.
struct SkyCell {
  std::uint32_t cell;
  std::uint32_t first_star;
};
struct PackedSkyStar {
  std::uint32_t ra;        // 2^32 = a full turn
  std::int32_t dec;        // likewise
  std::int16_t pm_ra_mas;  // a year, times cos(dec)
  std::int16_t pm_dec_mas;
  std::int16_t millimag;
  std::int16_t colour_millimag;
  std::uint16_t error_mas;            // of the position, one axis; 65535 and more are written as 65535
  std::uint16_t motion_error_mas100;  // a year, in hundredths of a milliarcsec
};
static_assert(sizeof(SkyLevel) == 16 && sizeof(SkyCell) == 8 && sizeof(PackedSkyStar) == 20);

[[nodiscard]] inline math::Vec3 packed_direction(const PackedSkyStar& s) {
  return math::from_angles(s.ra / kSkyTurn * 2 * kPi, s.dec / kSkyTurn * 2 * kPi);
}

}  // namespace ng::catalog
