// io/fits_header_text.h - header cards as the 80 characters that stand in the file (FITS 4.0, section 4).
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "base/result.h"
#include "io/fits_writer.h"

namespace ng::io {

// The cards of one value, a whole number of 80 characters. Errors: kInvalidInput (name, or commentary that is no text).
[[nodiscard]] Result<std::string> format_card(const FitsCard& card);

// A whole header: structural cards, EXTNAME, the user's cards, DATASUM and CHECKSUM with room for their values, END,
// blanks up to a multiple of 2880. `index` is 0 for the primary. Errors as for FitsWriter::add_image.
struct HeaderText {
  std::string text;
  std::size_t datasum_at = 0;  // offsets of the two 80-character cards
  std::size_t checksum_at = 0;
};
[[nodiscard]] Result<HeaderText> format_header(const FitsImageSpec& spec, int index);

}  // namespace ng::io
