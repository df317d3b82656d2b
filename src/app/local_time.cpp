#include "app/local_time.h"

#include <date/tz.h>
#include <fmt/format.h>

#include <cstdio>
#include <stdexcept>

namespace ng::app {
namespace {

using Seconds = std::chrono::seconds;

const date::time_zone& zone_of(const void* zone) {
  return *static_cast<const date::time_zone*>(zone);
}
date::sys_seconds seconds_of(Instant utc) {
  return std::chrono::floor<Seconds>(
      date::sys_time<std::chrono::microseconds>(std::chrono::microseconds(utc.unix_us())));
}
std::string written(const void* zone, Instant utc, const char* format) {
  return date::format(format, date::make_zoned(&zone_of(zone), seconds_of(utc)));
}

}  // namespace

Result<LocalZone> LocalZone::find(const std::string& name) {
  try {
    return LocalZone(date::locate_zone(name));
  } catch (const std::exception&) {
    return Error(Code::kNotFound, fmt::format("no time zone is called '{}'; write it like Europe/Rome, or UTC", name));
  }
}

// To the nearest minute, as a person would say it.
std::string LocalZone::clock(Instant utc) const {
  return written(zone_, utc.plus_seconds(30), "%H:%M");
}

std::string LocalZone::date(Instant utc) const {
  return written(zone_, utc, "%F");
}

std::string LocalZone::iso(Instant utc) const {
  return written(zone_, utc, "%FT%T%Ez");
}

std::string LocalZone::abbreviation(Instant utc) const {
  return written(zone_, utc, "%Z");
}

Result<Instant> LocalZone::moment(const std::string& text, int hour) const {
  int y = 0, m = 0, d = 0;
  char rest = 0;
  if (std::sscanf(text.c_str(), "%d-%d-%d%c", &y, &m, &d, &rest) == 3) {
    const date::year_month_day day{date::year{y}, date::month{static_cast<unsigned>(m)},
                                   date::day{static_cast<unsigned>(d)}};
    if (day.ok() && y >= 1960 && y <= 3000) {
      const date::local_seconds local = date::local_days{day} + std::chrono::hours(hour);
      const auto utc = zone_of(zone_).to_sys(local, date::choose::earliest);
      return Instant::from_unix_us(std::chrono::microseconds(utc.time_since_epoch()).count());
    }
  }
  return Error(Code::kInvalidInput, fmt::format("'{}' is no date; write it like 2027-01-05", text));
}

}  // namespace ng::app
