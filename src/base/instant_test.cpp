#include "base/instant.h"

#include <gtest/gtest.h>

namespace ng {
namespace {

// Meeus, Astronomical Algorithms 2nd ed., example 7.a and table p. 62; of the table, what the Gregorian calendar holds.
TEST(Instant, JulianDates) {
  EXPECT_NEAR(Instant::parse("1957-10-04T19:26:24")->jd(), 2436116.31, 1e-6);
  EXPECT_NEAR(Instant::parse("2000-01-01T12:00:00")->jd(), 2451545.0, 1e-9);
  EXPECT_NEAR(Instant::parse("1987-01-27")->jd(), 2446822.5, 1e-9);
  EXPECT_NEAR(Instant::parse("1900-01-01")->jd(), 2415020.5, 1e-9);
  EXPECT_NEAR(Instant::parse("1600-12-31")->jd(), 2305812.5, 1e-9);
}

// Meeus, examples 7.c (p. 64: JD 2436116.31 is 1957 October 4.81) and 7.d (27689 days between two returns of a comet).
TEST(Instant, BackToTheCalendarAndDaysBetween) {
  EXPECT_EQ(Instant::from_mjd(2436116.31 - 2400000.5).iso().substr(0, 16), "1957-10-04T19:26");
  EXPECT_EQ(Instant::parse("1986-02-09")->seconds_since(*Instant::parse("1910-04-20")) / 86400, 27689);
}

TEST(Instant, RoundTripAndZones) {
  const auto t = Instant::parse("2017-12-19T18:33:43.317-0700");
  ASSERT_TRUE(t);
  EXPECT_EQ(t->iso(), "2017-12-20T01:33:43.317");
  EXPECT_EQ(Instant::parse(t->iso()), t);
  EXPECT_NEAR(t->mjd(), 58107.065, 5e-4);  // the header of that frame gives the MJD to three decimals
  EXPECT_EQ(Instant::parse("1969-12-31T23:59:59.500")->iso(), "1969-12-31T23:59:59.500");
  EXPECT_EQ(Instant::from_mjd(t->mjd()).iso(), t->iso());
}

TEST(Instant, RefusesWhatIsNoDate) {
  for (const char* text : {"", "2017", "2017-13-01", "2017-02-30", "2017-12-19T25:00:00", "2017-12-19T18:61",
                           "2017-12-19T1", "2017-12-19T18:33:43 MST", "19/12/17", "2017-12-19T18:33:43+99"})
    EXPECT_FALSE(Instant::parse(text)) << text;
}

}  // namespace
}  // namespace ng
