#include "app/pole_drift.h"

#include <fmt/format.h>

#include <cmath>

#include "base/angle.h"
#include "diagnose/drift_line.h"
#include "io/number_table.h"

namespace ng::app {
namespace {

constexpr double kSiderealArcsecS = 15.041;

// Where the star in the middle of the first frame went on the chip, in the first frame's own directions of the sky.
Result<NamedDrift> drift_of_pair(const PolePair& pair, const Placed& first, const Placed& second) {
  const std::string name = pair.first.string() + ", " + pair.second.string();
  const double seconds = second.middle.seconds_since(first.middle);
  if (!(seconds >= 60))
    return Error(Code::kInvalidInput, name +
                                          ": the second frame of a drift must follow the first by a minute at least, "
                                          "better by five or more");
  const SkyPlace star = first.wcs.sky_of(first.middle_px);
  const auto there = second.wcs.pixel_of(star);
  if (!there) return Error(Code::kInvalidInput, name + ": the frames of a drift must show the same place of the sky");
  const SkyPlace seen = first.wcs.sky_of(*there);
  const double north = seen.dec_rad - star.dec_rad;
  const double east = std::remainder(seen.ra_rad - star.ra_rad, 2 * kPi) * std::cos(star.dec_rad);
  const double followed = kSiderealArcsecS / kArcsecPerRadian * seconds * std::cos(star.dec_rad);
  if (std::hypot(north, east) > 0.2 * followed && std::hypot(north, east) > deg_to_rad(0.25))
    return Error(Code::kInvalidInput,
                 fmt::format("{}: the place moved by {:.2f} degrees in {:.0f} s: the mount must follow the stars, and "
                             "nothing may be turned between the two frames",
                             name, rad_to_deg(std::hypot(north, east)), seconds));
  NamedDrift d;
  d.from = name;
  d.seen = {{star.ra_rad, star.dec_rad},
            first.middle,
            seconds,
            north,
            std::hypot(first.attitude.errors.centre_rad, second.attitude.errors.centre_rad)};
  return d;
}

Result<NamedDrift> drift_of_log(const PoleGuideLog& log) {
  const std::string name = log.file.string();
  if (!(std::fabs(log.dec_deg) <= 90 && std::fabs(log.ra_deg) <= 360))
    return Error(Code::kInvalidInput, name + ": the guide star lies nowhere on the sky");
  NG_TRY(const auto table, io::open_table(log.file));
  const auto time = table->find("seconds"), north = table->find("north_arcsec");
  if (!time || !north)
    return Error(Code::kInvalidInput, name +
                                          ": a guide log needs a first line with the columns seconds and "
                                          "north_arcsec, and numbers below it");
  std::vector<double> seconds, offsets, row;
  for (;;) {
    NG_TRY(const bool more, table->next(row).in(name));
    if (!more) break;
    if (!std::isfinite(row[*time]) || !std::isfinite(row[*north])) continue;  // a lost star leaves its cell empty
    seconds.push_back(row[*time]);
    offsets.push_back(row[*north]);
  }
  NG_TRY(const diagnose::DriftLine line, diagnose::drift_line(seconds, offsets).in(name));
  NamedDrift d;
  d.from = name;
  const double span = seconds.back() - seconds.front();
  d.seen = {{deg_to_rad(log.ra_deg), deg_to_rad(log.dec_deg)},
            log.begin.plus_seconds(seconds.front()),
            span,
            line.slope * span / kArcsecPerRadian,
            line.slope_error * span / kArcsecPerRadian};
  return d;
}

}  // namespace

Result<std::vector<NamedDrift>> seen_drifts(const PoleRequest& r, const Setting& setting, std::optional<Placed>& last,
                                            const Context& ctx) {
  std::vector<NamedDrift> all;
  for (const PolePair& pair : r.pairs) {
    NG_TRY(const Placed first, place(pair.first, r, setting, ctx.serial()));
    NG_TRY(const Placed second, place(pair.second, r, setting, ctx.serial()));
    NG_TRY(NamedDrift drift, drift_of_pair(pair, first, second));
    all.push_back(std::move(drift));
    last = second;
    ctx.advance();
  }
  for (const PoleGuideLog& log : r.guide_logs) {
    NG_TRY(NamedDrift drift, drift_of_log(log));
    all.push_back(std::move(drift));
    ctx.advance();
  }
  return all;
}

Result<PoleSeenDrift> described(const NamedDrift& drift, const Setting& setting) {
  NG_TRY(const diagnose::OneDrift one, diagnose::one_drift(drift.seen, setting.site, setting.air));
  constexpr double kArcmin = kArcsecPerRadian / 60;
  PoleSeenDrift d;
  d.from = drift.from;
  d.hour_angle_deg = rad_to_deg(one.hour_angle_rad);
  d.minutes = drift.seen.seconds / 60;
  d.north_arcsec = drift.seen.north_rad * kArcsecPerRadian;
  d.north_error_arcsec = drift.seen.north_error_rad * kArcsecPerRadian;
  d.least_arcmin = one.largest_rad * kArcmin;
  // Azimuth grows towards the east in the north, towards the west in the south.
  const double east = setting.site.latitude_rad >= 0 ? 1 : -1;
  if (one.azimuth_rad) d.azimuth_only_arcmin = east * *one.azimuth_rad * kArcmin;
  if (one.altitude_rad) d.altitude_only_arcmin = *one.altitude_rad * kArcmin;
  return d;
}

}  // namespace ng::app
