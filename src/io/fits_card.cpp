#include "io/fits_card.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <utility>

namespace ng::io {
namespace {

constexpr std::size_t kNameBytes = 8;

bool is_utf8(std::string_view s) {
  for (std::size_t i = 0; i < s.size();) {
    const auto c = static_cast<unsigned char>(s[i]);
    const std::size_t extra = c < 0x80 ? 0 : c >= 0xC2 && c < 0xE0 ? 1 : c >= 0xE0 && c < 0xF0 ? 2 : 9;
    if (extra == 9 || i + extra >= s.size()) return false;
    for (std::size_t k = 1; k <= extra; ++k)
      if ((static_cast<unsigned char>(s[i + k]) & 0xC0) != 0x80) return false;
    if (extra == 2) {  // no overlong forms, no surrogates
      const auto next = static_cast<unsigned char>(s[i + 1]);
      if ((c == 0xE0 && next < 0xA0) || (c == 0xED && next >= 0xA0)) return false;
    }
    i += extra + 1;
  }
  return true;
}

// FITS text is ASCII. What is not becomes UTF-8 (taken as Latin-1 when it is not UTF-8 already); controls become '?'.
std::string clean(std::string_view raw) {
  const bool keep = is_utf8(raw);
  std::string out;
  out.reserve(raw.size());
  for (const char c : raw) {
    const auto u = static_cast<unsigned char>(c);
    if (u < 0x20 || u == 0x7F) {
      out += '?';
    } else if (u < 0x80 || keep) {
      out += c;
    } else {
      out += static_cast<char>(0xC0 | (u >> 6));
      out += static_cast<char>(0x80 | (u & 0x3F));
    }
  }
  return out;
}

// Splits "value / comment" of a card without quotes.
void split_plain(std::string_view body, ScannedCard& card) {
  const std::size_t slash = body.find('/');
  card.text = clean(trimmed(body.substr(0, slash)));
  if (slash != std::string_view::npos) card.comment = clean(trimmed(body.substr(slash + 1)));
}

// Reads a string whose opening quote is body[0]. A quote ends it when only blanks or a slash follow.
void split_quoted(std::string_view body, ScannedCard& card) {
  card.quoted = true;
  std::string value;
  std::size_t i = 1;
  for (; i < body.size(); ++i) {
    if (body[i] != '\'') {
      value += body[i];
      continue;
    }
    if (i + 1 < body.size() && body[i + 1] == '\'') {
      value += body[i++];
      continue;
    }
    const std::string_view rest = trimmed(body.substr(i + 1));
    if (rest.empty() || rest.front() == '/') {
      if (!rest.empty()) card.comment = clean(trimmed(rest.substr(1)));
      break;
    }
    card.fault = "a quote inside the text is not doubled";
    value += body[i];
  }
  if (i >= body.size()) card.fault = "the closing quote is missing";
  card.text = clean(value);
}

void check_number(ScannedCard& card) {
  if (card.quoted || card.text.empty()) return;
  const auto number = leading_number(card.text);
  if (number && number->decimal_comma) card.fault = "the number has a decimal comma";
}

// Where the '=' of a value card stands: column 9 by the standard, tolerated at columns 2 to 8.
std::size_t equals_column(std::string_view card) {
  if (card.size() > kNameBytes && card[kNameBytes] == '=') return kNameBytes;
  const std::size_t at = card.substr(0, kNameBytes).find('=');
  return at == 0 ? std::string_view::npos : at;
}

bool is_keyword(std::string_view name) {
  return !name.empty() && std::all_of(name.begin(), name.end(), [](char c) {
    return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
  });
}

ScannedCard scan_card(std::string_view bytes) {
  ScannedCard card;
  std::string_view field = trimmed(bytes.substr(0, kNameBytes));
  if (field == "HISTORY" || field == "COMMENT") {
    card.name = std::string(field);
    card.text = clean(trimmed(bytes.substr(kNameBytes)));
    return card;
  }
  const bool hierarch = field == "HIERARCH";
  const std::size_t equals = hierarch ? bytes.find('=') : equals_column(bytes);
  if (field.empty() || equals == std::string_view::npos) return card;
  card.name = clean(upper(trimmed(hierarch ? bytes.substr(kNameBytes, equals - kNameBytes) : bytes.substr(0, equals))));
  if (!hierarch && !is_keyword(card.name)) return ScannedCard{};
  if (!hierarch && (equals != kNameBytes || bytes[0] == ' '))
    card.fault = "the keyword or its '=' is not in its column";
  const std::string_view body = trimmed(bytes.substr(equals + 1));
  if (!body.empty() && body.front() == '\'') {
    split_quoted(body, card);
  } else {
    split_plain(body, card);
    check_number(card);
  }
  return card;
}

// Appends a CONTINUE card (FITS 4.0, section 4.2.1.2) to the string card before it.
void append_continuation(std::string_view bytes, ScannedCard& card) {
  const std::size_t last = card.text.find_last_not_of(' ');
  if (!card.quoted || last == std::string::npos || card.text[last] != '&') return;
  ScannedCard more;
  const std::string_view body = trimmed(bytes.substr(kNameBytes));
  if (body.empty() || body.front() != '\'') return;
  split_quoted(body, more);
  card.text.resize(last);
  card.text += more.text;
  if (!more.comment.empty()) card.comment += (card.comment.empty() ? "" : " ") + more.comment;
  if (card.fault.empty()) card.fault = more.fault;
}

}  // namespace

bool is_end_card(std::string_view card) {
  return card.substr(0, kNameBytes) == "END     " && (card.size() <= kNameBytes || card[kNameBytes] != '=');
}

FitsCards FitsCards::scan(std::string_view bytes) {
  FitsCards cards;
  bool string_may_continue = false;
  for (std::size_t at = 0; at + kCardBytes <= bytes.size(); at += kCardBytes) {
    const std::string_view raw = bytes.substr(at, kCardBytes);
    const std::string_view name = trimmed(raw.substr(0, kNameBytes));
    if (is_end_card(raw)) break;
    if (name == "CONTINUE") {
      if (string_may_continue) append_continuation(raw, cards.cards_.back());
      continue;
    }
    ScannedCard card = scan_card(raw);
    string_may_continue = card.quoted;
    if (!card.name.empty()) cards.cards_.push_back(std::move(card));
  }
  // Trailing blanks of a string do not count, but those before a continuation do: cut them only now.
  for (ScannedCard& card : cards.cards_) card.text = std::string(trimmed(card.text));
  return cards;
}

const ScannedCard* FitsCards::find(std::string_view name) const {
  const auto it = std::find_if(cards_.begin(), cards_.end(), [&](const ScannedCard& c) { return c.name == name; });
  return it == cards_.end() ? nullptr : &*it;
}

std::optional<double> FitsCards::number(std::string_view name) const {
  const ScannedCard* card = find(name);
  if (card == nullptr) return std::nullopt;
  const auto number = leading_number(card->text);
  return number && number->rest.empty() ? std::optional(number->value) : std::nullopt;
}

std::optional<std::int64_t> FitsCards::integer(std::string_view name) const {
  const auto value = number(name);
  if (!value || std::fabs(*value) > 9e15 || *value != std::floor(*value)) return std::nullopt;
  return static_cast<std::int64_t>(*value);
}

std::optional<std::string> FitsCards::text(std::string_view name) const {
  const ScannedCard* card = find(name);
  if (card == nullptr || card->text.empty()) return std::nullopt;
  return card->text;
}

bool FitsCards::is_true(std::string_view name) const {
  const ScannedCard* card = find(name);
  return card != nullptr && !card->quoted && !card->text.empty() && card->text[0] == 'T';
}

void FitsCards::inherit(const FitsCards& primary) {
  const std::size_t own = cards_.size();
  for (const ScannedCard& card : primary.cards_) {
    const bool commentary = card.name == "HISTORY" || card.name == "COMMENT";
    const auto own_end = cards_.begin() + static_cast<std::ptrdiff_t>(own);
    const bool known = std::any_of(cards_.begin(), own_end, [&](const ScannedCard& c) { return c.name == card.name; });
    if (commentary || !known) cards_.push_back(card);
  }
}

std::optional<LeadingNumber> leading_number(std::string_view text) {
  text = trimmed(text);
  std::array<char, 64> copy{};
  std::size_t n = 0;
  LeadingNumber number;
  std::size_t at = !text.empty() && text[0] == '+' ? 1 : 0;
  const std::size_t begin = at;
  bool mantissa = true;
  for (; at < text.size() && n + 1 < copy.size(); ++at) {
    char c = text[at];
    const bool digit = c >= '0' && c <= '9';
    const bool sign = (c == '-' || c == '+') && (at == begin || copy[n - 1] == 'e');
    const bool comma = c == ',' && mantissa && at + 1 < text.size() && text[at + 1] >= '0' && text[at + 1] <= '9';
    if (comma && n > 0 && !number.decimal_comma) {
      number.decimal_comma = true;
      c = '.';
    } else if ((c == 'E' || c == 'e' || c == 'D' || c == 'd') && mantissa && n > 0) {
      const std::size_t next = at + 1;
      const bool exponent =
          next < text.size() && (text[next] == '-' || text[next] == '+' || (text[next] >= '0' && text[next] <= '9'));
      if (!exponent) break;
      mantissa = false;
      c = 'e';
    } else if (!digit && !sign && c != '.') {
      break;
    }
    if (c == '+' && n > 0) continue;  // from_chars takes no plus in an exponent of some libraries; it means nothing
    copy[n++] = c;
  }
  const auto [end, error] = std::from_chars(copy.data(), copy.data() + n, number.value);
  if (error != std::errc() || end != copy.data() + n || !std::isfinite(number.value)) return std::nullopt;
  number.rest = trimmed(text.substr(at));
  return number;
}

std::string_view trimmed(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\0' || c == '\r' || c == '\n'; };
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  return text;
}

std::string upper(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return out;
}

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

}  // namespace ng::io
