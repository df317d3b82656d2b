// base/instant.h - a moment in UTC.
//
// Stored as microseconds since 1970-01-01T00:00:00 UTC, without leap seconds (a leap second repeats the one before it).
// Conversion to other time scales belongs to sky/.
#pragma once

#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace ng {

class Instant {
 public:
  constexpr Instant() = default;
  [[nodiscard]] static constexpr Instant from_unix_us(std::int64_t us) { return Instant(us); }
  [[nodiscard]] constexpr std::int64_t unix_us() const { return unix_us_; }

  // Julian date and modified Julian date of UTC, in days.
  [[nodiscard]] constexpr double jd() const { return 2440587.5 + static_cast<double>(unix_us_) / 86400e6; }
  [[nodiscard]] constexpr double mjd() const { return 40587.0 + static_cast<double>(unix_us_) / 86400e6; }
  [[nodiscard]] static Instant from_mjd(double mjd);

  [[nodiscard]] Instant plus_seconds(double seconds) const;
  [[nodiscard]] double seconds_since(const Instant& earlier) const {
    return static_cast<double>(unix_us_ - earlier.unix_us_) * 1e-6;
  }

  // "2026-01-14T21:03:00.500" (milliseconds), as FITS 4.0 section 9.1.1 asks; UTC.
  [[nodiscard]] std::string iso() const;
  // Reads a FITS or ISO 8601 date: "2026-01-14", "2026-01-14T21:03:00[.fff][Z|+hh:mm|-hhmm]". Without a zone it is UTC.
  // Nothing when the text is not such a date or a field is out of range.
  [[nodiscard]] static std::optional<Instant> parse(std::string_view text);

  friend constexpr auto operator<=>(const Instant&, const Instant&) = default;

 private:
  explicit constexpr Instant(std::int64_t us) : unix_us_(us) {}
  std::int64_t unix_us_ = 0;
};

}  // namespace ng
