// catalog/star_file.h - a star catalogue on disk, mapped into memory and searched by cone.
//
// Layout, little-endian: 16 bytes of head (magic "ngstars1", number of stars as uint32, number of zones as uint32),
// then zones + 1 indices (uint32) of the first star of each declination zone from the south pole up, zones of equal
// height, then the stars, 12 bytes each, by right ascension within their zone:
//   uint32 right ascension (2^32 = a full turn), int32 declination (2^32 = a full turn), int16 V in millimagnitudes,
//   int16 B-V in millimagnitudes (-32768: not known).
// A step of position is 0.3 milliarcsec. Equinox and epoch are J2000; proper motions are not held.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "base/result.h"

namespace ng::catalog {

struct CatalogStar {
  double ra_rad = 0;  // [0, 2 pi)
  double dec_rad = 0;
  double v_mag = 0;
  std::optional<double> b_minus_v;
};

class StarFile {
 public:
  // Errors: kNotFound, kIo, kCorrupt (not such a file, cut short, or its index makes no sense).
  [[nodiscard]] static Result<StarFile> open(const std::filesystem::path& path);
  StarFile(StarFile&&) noexcept;
  StarFile& operator=(StarFile&&) noexcept;
  ~StarFile();

  [[nodiscard]] std::size_t size() const;
  // All stars within radius_rad of a direction and not fainter than faintest_v_mag, brightest first; equal brightness
  // by right ascension, then declination.
  [[nodiscard]] std::vector<CatalogStar> cone(double ra_rad, double dec_rad, double radius_rad,
                                              double faintest_v_mag) const;

 private:
  struct Mapping;
  explicit StarFile(std::unique_ptr<Mapping> mapping);
  std::unique_ptr<Mapping> mapping_;
};

// The bytes of such a file. Errors: kInvalidInput (a position or magnitude out of range).
[[nodiscard]] Result<std::vector<std::byte>> encode_star_file(std::span<const CatalogStar> stars);

}  // namespace ng::catalog
