#include "io/fits_header_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <set>

#include "io/fits_card.h"

namespace ng::io {
namespace {

constexpr std::size_t kValueColumns = kCardBytes - 10;  // behind "NAME    = "

std::string padded_to_card(std::string text) {
  text.resize((text.size() + kCardBytes - 1) / kCardBytes * kCardBytes, ' ');
  return text;
}

// Printable ASCII only; a sequence of other bytes (one UTF-8 character) becomes one '?'.
std::string printable(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto u = static_cast<unsigned char>(c);
    if (u >= 0x80 && u < 0xC0) continue;
    out += u < 0x20 || u > 0x7E ? '?' : c;
  }
  return out;
}

std::string doubled_quotes(std::string_view text) {
  std::string out;
  for (const char c : text) {
    out += c;
    if (c == '\'') out += c;
  }
  return out;
}

// Shortest text that reads back as the same double, with a point or an exponent, as section 4.2.4 asks.
std::string format_double(double value) {
  std::array<char, 32> buffer{};
  const auto [end, error] = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value);
  std::string text = upper(std::string_view(buffer.data(), static_cast<std::size_t>(end - buffer.data())));
  if (text.find_first_of(".E") == std::string::npos) text += ".0";
  return text;
}

// A value in its field of 20 columns and as much of the comment as the card holds.
std::string with_comment(const std::string& name, const std::string& value, const std::string& comment) {
  std::string card = fmt::format("{:<8}= {}", name, value);
  if (!comment.empty() && card.size() + 4 <= kCardBytes)
    card += fmt::format(" / {}", comment).substr(0, kCardBytes - card.size());
  return padded_to_card(card);
}

// How many characters of `text` make at most `room` after doubling of quotes; never splits a pair.
std::size_t fitting(std::string_view text, std::size_t room) {
  std::size_t used = 0;
  std::size_t n = 0;
  for (; n < text.size(); ++n) {
    used += text[n] == '\'' ? 2 : 1;
    if (used > room) break;
  }
  return n;
}

std::string string_cards(const std::string& name, std::string text, const std::string& comment) {
  const std::string whole = doubled_quotes(text);
  if (whole.size() + 2 <= kValueColumns)
    return with_comment(name, fmt::format("{:<20}", fmt::format("'{:<8}'", whole)), comment);
  std::string out;
  std::string_view left = text;
  while (!left.empty()) {
    std::size_t n = fitting(left, kValueColumns - 2);
    const bool last = n == left.size();
    if (!last) n = fitting(left, kValueColumns - 3);  // room for the '&'
    const std::string piece = fmt::format("'{}{}'", doubled_quotes(left.substr(0, n)), last ? "" : "&");
    left.remove_prefix(n);
    std::string card = out.empty() ? fmt::format("{:<8}= {}", name, piece) : fmt::format("CONTINUE  {}", piece);
    if (last && !comment.empty() && card.size() + 4 <= kCardBytes)
      card += fmt::format(" / {}", comment).substr(0, kCardBytes - card.size());
    out += padded_to_card(card);
  }
  return out;
}

std::string commentary_cards(const std::string& name, std::string_view text) {
  std::string out;
  do {
    const std::size_t n = std::min(text.size(), kCardBytes - 8);
    out += padded_to_card(fmt::format("{:<8}{}", name, text.substr(0, n)));
    text.remove_prefix(n);
  } while (!text.empty());
  return out;
}

bool valid_name(std::string_view name) {
  return !name.empty() && name.size() <= 8 && std::all_of(name.begin(), name.end(), [](char c) {
    return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
  });
}

bool is_commentary(std::string_view name) {
  return name == "HISTORY" || name == "COMMENT";
}

// Cards that describe the structure: the writer's own.
bool is_reserved(std::string_view name) {
  constexpr std::array<std::string_view, 15> kReserved{"SIMPLE", "XTENSION", "BITPIX",   "NAXIS",   "EXTEND",
                                                       "PCOUNT", "GCOUNT",   "GROUPS",   "BZERO",   "BSCALE",
                                                       "BLANK",  "DATASUM",  "CHECKSUM", "EXTNAME", "CONTINUE"};
  if (name == "END" || std::find(kReserved.begin(), kReserved.end(), name) != kReserved.end()) return true;
  return name.starts_with("NAXIS") && name.find_first_not_of("0123456789", 5) == std::string_view::npos;
}

FitsCard integer(std::string name, std::int64_t value, std::string comment) {
  return {std::move(name), value, std::move(comment)};
}

std::vector<FitsCard> structure(const FitsImageSpec& spec, int index) {
  const bool primary = index == 0;
  std::vector<FitsCard> cards;
  if (primary) {
    cards.push_back({"SIMPLE", true, "conforms to FITS standard"});
  } else {
    cards.push_back({"XTENSION", std::string("IMAGE"), "image extension"});
  }
  cards.push_back(integer("BITPIX", spec.pixel == FitsPixel::kFloat32 ? -32 : 16, "bits per pixel, negative: float"));
  cards.push_back(integer("NAXIS", spec.planes == 1 ? 2 : 3, "number of axes"));
  cards.push_back(integer("NAXIS1", spec.width, "pixels along a row"));
  cards.push_back(integer("NAXIS2", spec.height, "rows"));
  if (spec.planes != 1) cards.push_back(integer("NAXIS3", spec.planes, "planes"));
  if (primary) {
    cards.push_back({"EXTEND", true, "extensions may follow"});
  } else {
    cards.push_back(integer("PCOUNT", 0, ""));
    cards.push_back(integer("GCOUNT", 1, ""));
  }
  if (spec.pixel == FitsPixel::kUint16) {
    cards.push_back(integer("BZERO", 32768, "unsigned 16-bit pixels"));
    cards.push_back(integer("BSCALE", 1, ""));
  }
  if (!spec.name.empty()) cards.push_back({"EXTNAME", spec.name, ""});
  return cards;
}

}  // namespace

Result<std::string> format_card(const FitsCard& card) {
  if (!valid_name(card.name))
    return Error(Code::kInvalidInput,
                 fmt::format("'{}' is no FITS keyword: 1 to 8 characters of A-Z, 0-9, - and _", card.name));
  const std::string comment = printable(card.comment);
  if (is_commentary(card.name)) {
    const auto* text = std::get_if<std::string>(&card.value);
    if (text == nullptr) return Error(Code::kInvalidInput, card.name + " takes a text");
    return commentary_cards(card.name, printable(*text));
  }
  if (const auto* flag = std::get_if<bool>(&card.value))
    return with_comment(card.name, fmt::format("{:>20}", *flag ? "T" : "F"), comment);
  if (const auto* number = std::get_if<std::int64_t>(&card.value))
    return with_comment(card.name, fmt::format("{:>20}", *number), comment);
  if (const auto* real = std::get_if<double>(&card.value)) {
    if (!std::isfinite(*real)) return std::string();
    return with_comment(card.name, fmt::format("{:>20}", format_double(*real)), comment);
  }
  return string_cards(card.name, printable(std::get<std::string>(card.value)), comment);
}

Result<HeaderText> format_header(const FitsImageSpec& spec, int index) {
  if (spec.width < 1 || spec.height < 1 || spec.planes < 1)
    return Error(Code::kInvalidInput, fmt::format("an image of {} x {} x {} pixels cannot be written", spec.width,
                                                  spec.height, spec.planes));
  HeaderText header;
  for (const FitsCard& card : structure(spec, index)) {
    NG_TRY(const std::string text, format_card(card));
    header.text += text;
  }
  std::set<std::string> seen;
  for (const FitsCard& card : spec.cards) {
    if (is_reserved(card.name))
      return Error(Code::kInvalidInput, fmt::format("the card {} belongs to the writer", card.name));
    if (!is_commentary(card.name) && !seen.insert(card.name).second)
      return Error(Code::kInvalidInput, fmt::format("the card {} is given twice", card.name));
    NG_TRY(const std::string text, format_card(card));
    header.text += text;
  }
  header.datasum_at = header.text.size();
  header.checksum_at = header.datasum_at + kCardBytes;
  header.text.append(2 * kCardBytes, ' ');
  header.text += padded_to_card("END");
  header.text.resize((header.text.size() + kBlockBytes - 1) / kBlockBytes * kBlockBytes, ' ');
  return header;
}

}  // namespace ng::io
