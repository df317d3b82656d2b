#include "base/instant.h"

#include <array>
#include <charconv>
#include <chrono>
#include <cmath>
#include <cstdio>

namespace ng {
namespace {

// Reads exactly `digits` decimal digits at `pos` and moves on; -1 when they are not there.
int take_digits(std::string_view text, std::size_t& pos, std::size_t digits) {
  if (pos + digits > text.size()) return -1;
  int value = 0;
  const char* begin = text.data() + pos;
  const auto [end, error] = std::from_chars(begin, begin + digits, value);
  if (error != std::errc() || end != begin + digits || value < 0) return -1;
  pos += digits;
  return value;
}

bool take(std::string_view text, std::size_t& pos, char c) {
  if (pos >= text.size() || text[pos] != c) return false;
  ++pos;
  return true;
}

// Offset of a zone suffix in minutes east, or nothing when the suffix is malformed.
std::optional<int> take_zone(std::string_view text, std::size_t& pos) {
  if (pos == text.size() || take(text, pos, 'Z')) return 0;
  const bool west = text[pos] == '-';
  if (!west && text[pos] != '+') return std::nullopt;
  ++pos;
  const int hours = take_digits(text, pos, 2);
  take(text, pos, ':');
  const int minutes = take_digits(text, pos, 2);
  if (hours < 0 || hours > 15 || minutes < 0 || minutes > 59) return std::nullopt;
  return (west ? -1 : 1) * (hours * 60 + minutes);
}

}  // namespace

Instant Instant::from_mjd(double mjd) {
  return Instant(std::llround((mjd - 40587.0) * 86400e6));
}

Instant Instant::plus_seconds(double seconds) const {
  return Instant(unix_us_ + std::llround(seconds * 1e6));
}

std::string Instant::iso() const {
  using namespace std::chrono;
  const std::int64_t ms = unix_us_ >= 0 ? (unix_us_ + 500) / 1000 : (unix_us_ - 499) / 1000;
  const sys_time<milliseconds> time{milliseconds{ms}};
  const auto day = floor<days>(time);
  const year_month_day ymd{day};
  const hh_mm_ss clock{time - day};
  std::array<char, 64> text{};
  std::snprintf(text.data(), text.size(), "%04d-%02u-%02uT%02d:%02d:%02d.%03d", static_cast<int>(ymd.year()),
                static_cast<unsigned>(ymd.month()), static_cast<unsigned>(ymd.day()),
                static_cast<int>(clock.hours().count()), static_cast<int>(clock.minutes().count()),
                static_cast<int>(clock.seconds().count()), static_cast<int>(clock.subseconds().count()));
  return text.data();
}

std::optional<Instant> Instant::parse(std::string_view text) {
  using namespace std::chrono;
  while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  std::size_t pos = 0;
  const int y = take_digits(text, pos, 4);
  if (y < 0 || !take(text, pos, '-')) return std::nullopt;
  const int m = take_digits(text, pos, 2);
  if (m < 0 || !take(text, pos, '-')) return std::nullopt;
  const int d = take_digits(text, pos, 2);
  if (d < 0) return std::nullopt;
  const year_month_day ymd{year{y}, month{static_cast<unsigned>(m)}, day{static_cast<unsigned>(d)}};
  if (!ymd.ok()) return std::nullopt;
  std::int64_t us = duration_cast<microseconds>(sys_days{ymd}.time_since_epoch()).count();
  if (pos == text.size()) return Instant(us);

  if (!take(text, pos, 'T') && !take(text, pos, ' ')) return std::nullopt;
  const int hour = take_digits(text, pos, 2);
  if (hour < 0 || hour > 23 || !take(text, pos, ':')) return std::nullopt;
  const int minute = take_digits(text, pos, 2);
  if (minute < 0 || minute > 59) return std::nullopt;
  int second = 0;
  double fraction = 0;
  if (take(text, pos, ':')) {
    second = take_digits(text, pos, 2);
    if (second < 0 || second > 60) return std::nullopt;
    if (take(text, pos, '.')) {
      for (double unit = 0.1; pos < text.size() && text[pos] >= '0' && text[pos] <= '9'; unit /= 10)
        fraction += unit * (text[pos++] - '0');
    }
  }
  const auto zone_min = take_zone(text, pos);
  if (!zone_min || pos != text.size()) return std::nullopt;
  us += ((hour * 60LL + minute - *zone_min) * 60 + second) * 1'000'000 + std::llround(fraction * 1e6);
  return Instant(us);
}

}  // namespace ng
