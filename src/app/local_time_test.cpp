#include "app/local_time.h"

#include <gtest/gtest.h>

namespace ng::app {
namespace {

Instant at(const char* utc) {
  return *Instant::parse(utc);
}

// Central European summer time ends on 2026-10-25 at 01:00 UTC: the hour from two to three comes twice (Directive
// 2000/84/EC).
TEST(LocalZone, TheNightWithTwoTwoOClocks) {
  const LocalZone rome = *LocalZone::find("Europe/Rome");
  EXPECT_EQ(rome.clock(at("2026-10-25T00:30:00")), "02:30");
  EXPECT_EQ(rome.clock(at("2026-10-25T01:30:00")), "02:30");
  EXPECT_EQ(rome.abbreviation(at("2026-10-25T00:30:00")), "CEST");
  EXPECT_EQ(rome.iso(at("2026-10-25T01:30:00")), "2026-10-25T02:30:00+01:00");
  EXPECT_EQ(*rome.moment("2026-10-25", 2), at("2026-10-25T00:00:00"));
  EXPECT_EQ(rome.date(at("2026-01-05T23:30:00")), "2026-01-06");
  EXPECT_EQ(*rome.moment("2026-03-29", 2), at("2026-03-29T01:00:00"));  // the hour that is left out
}

TEST(LocalZone, Refusals) {
  EXPECT_EQ(LocalZone::find("Moon/Tycho").error().code(), Code::kNotFound);
  const LocalZone utc = *LocalZone::find("UTC");
  for (const char* wrong : {"2026-02-30", "tonight", "2026-1-5x"}) EXPECT_FALSE(utc.moment(wrong, 18).ok()) << wrong;
}

}  // namespace
}  // namespace ng::app
