// catalog/sky_file.h - a star catalogue made for finding one's place: stars by brightness and place, and their
// patterns.
//
// The file is mapped, not read; opening costs nothing, however large it is. Layout, little-endian (sky_format.h): head,
// levels, cells, stars, patterns.
//
// Levels: the sky is cut into cells of equal area (sky_cells.h); level 0 holds the 10 brightest stars of every cell of
// order 2, level 1 the next 10 there; levels 2 and 3 bring the cells of order 3 to 10 and 20 stars, and so on. So the
// first k levels together are an evenly dense sky of bright stars, about 0.05 stars a square degree at first and twice
// as many with every level. What no level took stands in the last one. Within a level, stars stand by cell.
//
// Patterns: every star of the first k levels with its nearest neighbours among them, four at a time, for every k up to
// a limit of stars (star_code.h, code_tree.h). They serve blind solving.
//
// Positions are ICRS at the file's epoch, with proper motions where the source has them (steps of 0.3 milliarcsec and 1
// milliarcsec a year). Magnitudes are in the band that the file names.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"
#include "catalog/code_tree.h"
#include "math/vec3.h"

namespace ng::catalog {

// One star as a source gives it.
struct SkyEntry {
  double ra_rad = 0;
  double dec_rad = 0;
  double pm_ra_rad_year = 0;  // times cos(dec)
  double pm_dec_rad_year = 0;
  double magnitude = 0;
  std::optional<double> colour;   // B-V or BP-RP
  double position_error_rad = 0;  // one axis, at the file's epoch
  double motion_error_rad_year =
      0;  // one axis; of a star without known proper motion, what is usual for its brightness
};

// One star at a moment.
struct SkyStar {
  math::Vec3 direction{};
  double magnitude = 0;
  std::optional<double> colour;
  double error_rad = 0;  // one axis, proper motion included
  std::uint32_t index = 0;
};

struct SkyFileFacts {
  std::string band;          // "V", "G" ...
  double epoch_year = 2000;  // Julian
  std::uint32_t stars = 0;
  std::uint32_t patterns = 0;
  double reach_mag = 0;     // where the counts of stars by magnitude cease to rise
  double covered_deg2 = 0;  // area of the cells that hold stars, cells being as large as five of its stars need
};

class SkyFile {
 public:
  // Errors: kNotFound, kIo, kCorrupt (not such a file, cut short, or its index makes no sense).
  [[nodiscard]] static Result<SkyFile> open(const std::filesystem::path& path);
  SkyFile(SkyFile&&) noexcept;
  SkyFile& operator=(SkyFile&&) noexcept;
  ~SkyFile();

  [[nodiscard]] const SkyFileFacts& facts() const;
  [[nodiscard]] std::span<const Pattern> patterns() const;
  [[nodiscard]] SkyStar star(std::uint32_t index, double year) const;
  // Up to `count` stars within radius_rad of a direction, brightest first: levels are opened until they hold enough, so
  // that a faint star is passed over sooner than a bright one, but between neighbours of one level either may be.
  [[nodiscard]] std::vector<SkyStar> brightest(const math::Vec3& centre, double radius_rad, std::size_t count,
                                               double year) const;

 private:
  struct Mapping;
  explicit SkyFile(std::unique_ptr<Mapping> mapping);
  std::unique_ptr<Mapping> mapping_;
};

struct SkyEncodeOptions {
  std::string band = "V";  // at most 7 characters
  double epoch_year = 2000;
  std::uint32_t pattern_stars = 1800000;  // no patterns for levels that exceed this many stars together
  int neighbours = 4;                     // each star makes patterns with triples of this many nearest ones
};
// The bytes of such a file. Errors: kInvalidInput (a position, magnitude or motion out of range, a name too long),
// kTooFew (no star), kCancelled.
[[nodiscard]] Result<std::vector<std::byte>> encode_sky_file(std::span<const SkyEntry> entries,
                                                             const SkyEncodeOptions& options, const Context& ctx);

}  // namespace ng::catalog
