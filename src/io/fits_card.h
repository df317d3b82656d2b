// io/fits_card.h - header cards of a FITS file as they really are, legal or not.
//
// FITS standard 4.0, section 4. Cards that break it must not cost the user a frame, so the scanner reads what can be
// read and says so: a decimal comma, a quote inside a string that is not doubled, a string without its closing quote,
// numbers in free format or with a Fortran D exponent, '=' at the wrong column, CONTINUE. A card whose keyword field is
// blank is commentary, as the standard says, whatever follows. Of several cards with one name the first counts.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace ng::io {

inline constexpr std::size_t kCardBytes = 80;
inline constexpr std::size_t kBlockBytes = 2880;

[[nodiscard]] bool is_end_card(std::string_view card);

struct ScannedCard {
  std::string name;     // upper case; "HISTORY" and "COMMENT" carry their text in `text`
  std::string text;     // the value without quotes and outer blanks; UTF-8 whatever the file holds
  std::string comment;  // what stands after the slash
  bool quoted = false;  // the value was a string
  std::string fault;    // how the card breaks the standard; empty when it does not
};

class FitsCards {
 public:
  // Scans the 80-byte cards up to END, or to the end of the bytes.
  [[nodiscard]] static FitsCards scan(std::string_view bytes);

  [[nodiscard]] const std::vector<ScannedCard>& all() const { return cards_; }
  // The first card of that name, or null.
  [[nodiscard]] const ScannedCard* find(std::string_view name) const;

  // Value of the first card of that name, where it has one of that type.
  [[nodiscard]] std::optional<double> number(std::string_view name) const;
  [[nodiscard]] std::optional<std::int64_t> integer(std::string_view name) const;
  [[nodiscard]] std::optional<std::string> text(std::string_view name) const;  // not empty
  [[nodiscard]] bool is_true(std::string_view name) const;                     // logical T

  // Adds the cards of another header for names that are not here yet, and its commentary.
  void inherit(const FitsCards& primary);

 private:
  std::vector<ScannedCard> cards_;
};

// The number that the text begins with: "1.5", "+3.2E+004", "1.0D3", "26.", "6,4E-05" (decimal comma), "11 C" (rest in
// `rest`). Nothing when it begins with no number or with one that is not finite.
struct LeadingNumber {
  double value = 0;
  bool decimal_comma = false;
  std::string_view rest;  // what follows, without blanks around it
};
[[nodiscard]] std::optional<LeadingNumber> leading_number(std::string_view text);

[[nodiscard]] std::string_view trimmed(std::string_view text);
[[nodiscard]] std::string upper(std::string_view text);
[[nodiscard]] std::string lower(std::string_view text);

}  // namespace ng::io
