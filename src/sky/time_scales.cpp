#include "sky/time_scales.h"

#include <erfa.h>
#include <fmt/format.h>

namespace ng::sky {
namespace {

constexpr std::int64_t kDayUs = 86'400'000'000;
constexpr double kUnixEpochJd = 2440587.5;

}  // namespace

Result<TimeScales> time_scales(Instant utc) {
  std::int64_t days = utc.unix_us() / kDayUs;
  std::int64_t rest_us = utc.unix_us() % kDayUs;
  if (rest_us < 0) {
    rest_us += kDayUs;
    --days;
  }
  TimeScales scales;
  scales.utc = {kUnixEpochJd + static_cast<double>(days), static_cast<double>(rest_us) / kDayUs};
  int year = 0, month = 0, day = 0;
  double fraction = 0;
  if (eraJd2cal(scales.utc.day, scales.utc.rest, &year, &month, &day, &fraction) != 0 || year < 1960)
    return Error(Code::kUnsupported, fmt::format("{} lies before 1960, when UTC began; give a later time", utc.iso()));
  JulianDate tai;
  const int status = eraUtctai(scales.utc.day, scales.utc.rest, &tai.day, &tai.rest);
  if (status < 0 || eraTaitt(tai.day, tai.rest, &scales.tt.day, &scales.tt.rest) != 0)
    return Error(Code::kUnsupported, fmt::format("{} is outside the years that can be computed", utc.iso()));
  eraDat(year, month, day, fraction, &scales.tai_minus_utc_s);
  scales.doubtful = status > 0;
  return scales;
}

Instant leap_seconds_doubtful_after() {
  constexpr int kFirstYear = 2017, kLastYear = 2200;  // ERFA's table ends in 2017 at the earliest
  int year = kFirstYear;
  double ignored = 0;
  while (year < kLastYear && eraDat(year, 1, 1, 0, &ignored) == 0) ++year;
  return *Instant::parse(fmt::format("{}-01-01", year));
}

}  // namespace ng::sky
