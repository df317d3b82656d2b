// io/fits_writer.h - writes FITS images row by row, under a temporary name until the file is whole.
//
// FITS standard 4.0 (Pence et al. 2010, A&A 524, A42, and its successor). Images are float32 (BITPIX -32) or unsigned
// 16-bit (BITPIX 16 with BZERO 32768). Each HDU carries DATASUM and CHECKSUM. Row 0 of the view is the first row
// stored.
//
// Use: create(), add_image() for the primary and each extension in file order, write_rows() in any order and of any HDU
// so far, commit(). One thread at a time. A writer that is destroyed without commit() leaves nothing behind, and what
// it was writing is in nobody's way until then. Never overwrites unless asked.
//
// The place of every HDU follows from its header, so bands of several HDUs may alternate at no cost; the checksums
// (FITS 4.0, section 4.4.2.7 and appendix J) are summed while the rows go by.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <variant>
#include <vector>

#include "base/image.h"
#include "base/result.h"
#include "io/overwrite.h"

namespace ng::io {

// One header card. Names are 1 to 8 characters of A-Z, 0-9, '-' and '_'. Strings too long for one card are continued
// (CONTINUE, section 4.2.1.2); characters that FITS forbids become '?'. A card named HISTORY or COMMENT with a string
// value becomes commentary, over as many cards as it needs. A double that is not finite has no form in FITS: its card
// is left out. The cards that describe the image (SIMPLE, NAXIS, BZERO, EXTNAME, CHECKSUM ...) belong to the writer.
struct FitsCard {
  std::string name;
  std::variant<bool, std::int64_t, double, std::string> value;
  std::string comment;
};

enum class FitsPixel : std::uint8_t { kFloat32, kUint16 };

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

  // Returns the index of the new HDU, 0 for the primary. Errors: kInvalidInput (a card that is not allowed or given
  // twice, an image without pixels), kIo (full disk: room is reserved now).
  [[nodiscard]] Result<int> add_image(const FitsImageSpec& spec);
  // Rows y0 ... y0 + rows.height - 1 of a plane. For kUint16 the values are rounded and must lie in 0..65535 (clamped;
  // NaN becomes 0).
  [[nodiscard]] Result<void> write_rows(int hdu, int plane, int y0, View<const float> rows);
  [[nodiscard]] Result<void> write_rows(int hdu, int plane, int y0, View<const std::uint16_t> rows);
  // Checksums, fsync, rename. After this the file is there, whole. Errors: kInvalidInput (no image, or rows that were
  // never written), kExists (somebody else made the file meanwhile), kIo.
  [[nodiscard]] Result<void> commit();

 private:
  struct State;
  explicit FitsWriter(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace ng::io
