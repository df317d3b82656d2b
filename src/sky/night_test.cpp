#include "sky/night.h"

#include <gtest/gtest.h>

#include <cmath>

#include "base/angle.h"

namespace ng::sky {
namespace {

Night night(const char* utc, double lat_deg, double lon_deg) {
  return *night_of(*Instant::parse(utc), {deg_to_rad(lat_deg), deg_to_rad(lon_deg), 0});
}

void expect_time(const std::optional<Instant>& found, const char* utc, double within_s, const char* what) {
  ASSERT_TRUE(found) << what;
  EXPECT_NEAR(found->seconds_since(*Instant::parse(utc)), 0, within_s) << what << ' ' << found->iso();
}

// Expected times in this file: an independent solver on ERFA's Sun (pyerfa), which PyEphem confirms to 2 s.
constexpr double kWithin_s = 10;

struct Darkness {
  const char *sunset, *dusk, *dawn, *sunrise;
};
void expect_darkness(const Night& n, const Darkness& d) {
  expect_time(n.sunset, d.sunset, kWithin_s, "sunset");
  expect_time(n.astronomical_dusk, d.dusk, kWithin_s, "dusk");
  expect_time(n.astronomical_dawn, d.dawn, kWithin_s, "dawn");
  expect_time(n.sunrise, d.sunrise, kWithin_s, "sunrise");
}

TEST(Night, SouthernEquinox) {
  expect_darkness(night("2024-03-20T05:00:00", -31.2733, 149.0617),
                  {"2024-03-20T08:14:48", "2024-03-20T09:35:36", "2024-03-20T18:46:52", "2024-03-20T20:07:44"});
}

TEST(Night, SouthernWinterAndSummer) {
  expect_darkness(night("2024-06-20T05:00:00", -31.2733, 149.0617),
                  {"2024-06-20T07:08:45", "2024-06-20T08:35:29", "2024-06-20T19:35:29", "2024-06-20T21:02:13"});
  expect_darkness(night("2024-12-21T05:00:00", -31.2733, 149.0617),
                  {"2024-12-21T09:07:28", "2024-12-21T10:46:25", "2024-12-21T17:17:45", "2024-12-21T18:56:42"});
}

TEST(Night, EquatorAtTheEquinox) {
  expect_darkness(night("2024-03-20T15:00:00", 0, 0),
                  {"2024-03-20T18:10:34", "2024-03-20T19:19:13", "2024-03-21T04:55:06", "2024-03-21T06:03:45"});
}

TEST(Night, NorthernWinter) {
  expect_darkness(night("2024-12-21T23:00:00", 51.4779, 0),
                  {"2024-12-21T15:53:16", "2024-12-21T17:57:32", "2024-12-22T05:59:31", "2024-12-22T08:03:47"});
}

// A midsummer night without astronomical darkness, and one that has it for 27 minutes: there the Sun grazes the limit.
TEST(Night, LimitOfDarkness) {
  const Night none = night("2024-06-21T00:00:00", 51.4779, 0);
  EXPECT_FALSE(none.astronomical_dusk);
  EXPECT_FALSE(none.astronomical_dawn);
  EXPECT_NEAR(rad_to_deg(none.sun_lowest_rad), -15.0839, 0.003);  // their Sun is geocentric: 8.8 arcsec of parallax
  expect_time(none.nautical_dusk, "2024-06-20T22:22:58", kWithin_s, "nautical dusk");
  expect_time(none.nautical_dawn, "2024-06-21T01:40:40", kWithin_s, "nautical dawn");
  const Night grazing = night("2024-06-20T22:00:00", 48.5, 0);
  expect_time(grazing.astronomical_dusk, "2024-06-20T23:48:30", 60, "dusk");
  expect_time(grazing.astronomical_dawn, "2024-06-21T00:15:08", 60, "dawn");
  EXPECT_FALSE(night("2024-06-20T22:00:00", 49, 0).astronomical_dusk);
}

TEST(Night, MidnightSunAndPolarNight) {
  const Night summer = night("2024-06-20T20:00:00", 69.65, 18.96);
  EXPECT_FALSE(summer.sunset || summer.sunrise || summer.civil_dusk);
  EXPECT_NEAR(rad_to_deg(summer.sun_lowest_rad), 3.0882, 0.01);
  EXPECT_NEAR(rad_to_deg(summer.sun_highest_rad), 43.7876, 0.01);
  const Night winter = night("2024-12-21T18:00:00", 69.65, 18.96);
  EXPECT_FALSE(winter.sunset || winter.sunrise);
  expect_time(winter.civil_dusk, "2024-12-21T12:53:23", kWithin_s, "civil dusk");
  expect_time(winter.civil_dawn, "2024-12-22T08:31:53", kWithin_s, "civil dawn");
  expect_time(winter.astronomical_dusk, "2024-12-21T15:56:19", kWithin_s, "dusk");
  expect_time(winter.astronomical_dawn, "2024-12-22T05:29:01", kWithin_s, "dawn");
}

TEST(Night, RiseAndSetOfTheMoon) {
  const Night south = night("2024-09-17T03:00:00", -31.2733, 149.0617);
  expect_time(south.moonrise, "2024-09-17T06:58:40", kWithin_s, "moonrise");
  expect_time(south.moonset, "2024-09-17T19:56:11", kWithin_s, "moonset");
  const Night north = night("2024-09-17T15:00:00", 51.4779, 0);
  expect_time(north.moonrise, "2024-09-17T18:05:30", kWithin_s, "moonrise");
  const Night before = night("2024-09-17T02:00:00", 51.4779, 0);
  expect_time(before.moonset, "2024-09-17T04:21:00", kWithin_s, "moonset");
  const Night high = night("2024-12-15T12:00:00", 69.65, 18.96);
  EXPECT_FALSE(high.moonrise || high.moonset);
}

// By day the night that follows; in the small hours the one that is; after sunrise again the next.
TEST(Night, WhichNight) {
  const Night evening = night("2024-03-20T10:00:00", -31.2733, 149.0617);
  for (const char* utc : {"2024-03-20T05:00:00", "2024-03-20T18:00:00", "2024-03-19T22:00:00"})
    EXPECT_NEAR(night(utc, -31.2733, 149.0617).sunset->seconds_since(*evening.sunset), 0, 1) << utc;
}

// A parabola that dips below a level for 40 s between two looks 600 s apart, and one that stays above.
TEST(Track, FindsATouchBetweenLooks) {
  const Instant from = *Instant::parse("2026-01-01");
  const Track track(from, from.plus_seconds(7200), 600,
                    [=](Instant t) { return 5 + std::pow((t.seconds_since(from) - 3740) / 100, 2); });
  const auto found = track.crossings(5.04);
  ASSERT_EQ(found.size(), 2u);
  EXPECT_NEAR(found[0].at.seconds_since(from), 3720, 0.1);
  EXPECT_FALSE(found[0].rising);
  EXPECT_NEAR(found[1].at.seconds_since(from), 3760, 0.1);
  EXPECT_TRUE(found[1].rising);
  EXPECT_TRUE(track.crossings(4.99).empty());
}

}  // namespace
}  // namespace ng::sky
