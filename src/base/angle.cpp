#include "base/angle.h"

#include <array>
#include <charconv>
#include <cmath>
#include <cstdio>

namespace ng {

std::optional<double> parse_sexagesimal(std::string_view text) {
  std::array<double, 3> fields{};
  int count = 0;
  bool negative = false;
  std::size_t i = 0;
  const auto skip_separators = [&] {
    while (i < text.size() && (text[i] == ' ' || text[i] == ':' || text[i] == '\t')) ++i;
  };
  skip_separators();
  if (i < text.size() && (text[i] == '+' || text[i] == '-')) negative = text[i++] == '-';
  for (skip_separators(); i < text.size(); skip_separators()) {
    if (count == 3) return std::nullopt;
    double value = 0;
    const auto [end, error] =
        std::from_chars(text.data() + i, text.data() + text.size(), value, std::chars_format::fixed);
    if (error != std::errc() || value < 0 || (count > 0 && value >= 60)) return std::nullopt;
    fields[count++] = value;
    i = static_cast<std::size_t>(end - text.data());
  }
  if (count == 0) return std::nullopt;
  const double magnitude = fields[0] + fields[1] / 60 + fields[2] / 3600;
  return negative ? -magnitude : magnitude;
}

namespace {
std::string print(const char* format, long a, long b, double c, const char* sign) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), format, sign, a, b, c);
  return text.data();
}
}  // namespace

std::string format_ra(double ra_deg) {
  const double turn = std::fmod(std::fmod(ra_deg, 360.0) + 360.0, 360.0);
  const long tenths = std::lround(turn / 15 * 36000) % (24L * 36000);
  return print("%s%02ld %02ld %04.1f", tenths / 36000, tenths / 600 % 60, static_cast<double>(tenths % 600) / 10, "");
}

std::string format_dec(double dec_deg) {
  const long seconds = std::lround(std::fabs(dec_deg) * 3600);
  return print("%s%02ld %02ld %02.0f", seconds / 3600, seconds / 60 % 60, static_cast<double>(seconds % 60),
               dec_deg < 0 ? "-" : "+");
}

}  // namespace ng
