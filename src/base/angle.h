// base/angle.h - radians inside, degrees at the edges, and the texts in between.
#pragma once

#include <numbers>
#include <optional>
#include <string>
#include <string_view>

namespace ng {

inline constexpr double kPi = std::numbers::pi;
inline constexpr double kArcsecPerRadian = 180.0 * 3600.0 / kPi;

[[nodiscard]] constexpr double deg_to_rad(double degrees) {
  return degrees * (kPi / 180.0);
}
[[nodiscard]] constexpr double rad_to_deg(double radians) {
  return radians * (180.0 / kPi);
}

// Reads "12 34 56.7", "12:34:56.7", "-00 30 00", "+12.5" (one to three fields; the sign counts for the whole even when
// the first field is zero). Returns the number in units of the first field: multiply by 15 for hours of right
// ascension. Nothing when the text is not such a number or a field after the first is negative or not below 60.
[[nodiscard]] std::optional<double> parse_sexagesimal(std::string_view text);

// "06 31 55.0" and "+04 56 34": right ascension in hours with one decimal, declination in degrees to the arcsecond.
[[nodiscard]] std::string format_ra(double ra_deg);
[[nodiscard]] std::string format_dec(double dec_deg);

}  // namespace ng
