// io/fits_writer.h - writes FITS images row by row, under a temporary name until the file is whole.
//
// FITS standard 4.0 (Pence et al. 2010, A&A 524, A42, and its successor). Images are float32 (BITPIX -32) or unsigned 16-bit
// (BITPIX 16 with BZERO 32768). Each HDU carries DATASUM and CHECKSUM. Row 0 of the view is the first row stored.
//
// Use: create(), add_image() for the primary and each extension in file order, write_rows() in any order, commit().
// A writer that is destroyed without commit() leaves nothing behind. Never overwrites unless asked.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <variant>
#include <vector>

#include "base/image.h"
#include "base/result.h"

namespace ng::io {

// One header card. Long strings are continued over several cards; names longer than 8 characters are not allowed.
// A card named HISTORY or COMMENT with a string value becomes commentary.
struct FitsCard {
  std::string name;
  std::variant<bool, std::int64_t, double, std::string> value;
  std::string comment;
};

enum class FitsPixel : std::uint8_t { kFloat32, kUint16 };

enum class Overwrite : std::uint8_t { kRefuse, kReplace };

struct FitsImageSpec {
  std::string name;  // EXTNAME; empty for the primary
  int width = 0;
  int height = 0;
  int planes = 1;  // 3 writes NAXIS = 3
  FitsPixel pixel = FitsPixel::kFloat32;
  std::vector<FitsCard> cards;
};

class FitsWriter {
 public:
  // Errors: kExists (and Overwrite::kRefuse), kIo (no such folder, no permission, full disk).
  [[nodiscard]] static Result<FitsWriter> create(const std::filesystem::path& path, Overwrite overwrite);
  FitsWriter(FitsWriter&&) noexcept;
  FitsWriter& operator=(FitsWriter&&) noexcept;
  ~FitsWriter();

  // Returns the index of the new HDU, 0 for the primary.
  [[nodiscard]] Result<int> add_image(const FitsImageSpec& spec);
  // Rows y0 ... y0 + rows.height - 1 of a plane. For kUint16 the values are rounded and must lie in 0..65535 (clamped; NaN
  // becomes 0).
  [[nodiscard]] Result<void> write_rows(int hdu, int plane, int y0, View<const float> rows);
  [[nodiscard]] Result<void> write_rows(int hdu, int plane, int y0, View<const std::uint16_t> rows);
  // Checksums, flush, fsync, rename. After this the file is there, whole.
  [[nodiscard]] Result<void> commit();

 private:
  struct State;
  explicit FitsWriter(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace ng::io
