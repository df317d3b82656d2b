#include "app/schedule.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sstream>

#include "app/schedule_text.h"

namespace ng::app {
namespace {

using testing::HasSubstr;

TEST(ScheduleWish, IsReadAsWritten) {
  const auto wish = parse_schedule_wish("M 33=L:3,R:1.5,G");
  ASSERT_TRUE(wish.ok());
  EXPECT_EQ(wish->name, "M 33");
  ASSERT_EQ(wish->filters.size(), 3u);
  EXPECT_EQ(wish->filters[1].name, "R");
  EXPECT_EQ(wish->filters[1].needed_h, 1.5);
  EXPECT_EQ(wish->filters[2].needed_h, 2);
  const auto panel = parse_schedule_wish("Old field@23.46,-30.66=Ha:4");
  ASSERT_TRUE(panel.ok());
  EXPECT_EQ(panel->name, "Old field");
  EXPECT_EQ(panel->dec_deg, -30.66);
  const auto mosaic = parse_schedule_wish("M 31/3x2/-35=L:2,R");
  ASSERT_TRUE(mosaic.ok());
  EXPECT_EQ(mosaic->name, "M 31");
  EXPECT_EQ(mosaic->across, 3);
  EXPECT_EQ(mosaic->up, 2);
  EXPECT_EQ(mosaic->position_angle_deg, -35);
  const auto placed = parse_schedule_wish("Old field@23.46,-30.66/1x2=L");
  ASSERT_TRUE(placed.ok());
  EXPECT_EQ(placed->ra_deg, 23.46);
  EXPECT_EQ(placed->up, 2);
  for (const char* wrong : {"M 33", "=L", "M 33=", "M 33=L:x", "M 33=L:-2", "P@23=L", "P@23,95=L", "M 31/3=L",
                            "M 31/0x2=L", "M 31/3x2/up=L", "M 31/3x99=L", "M 31/3x2"})
    EXPECT_THAT(parse_schedule_wish(wrong).error().message(), HasSubstr("write a target")) << wrong;
}

ScheduleReply reply_with(const std::string& why) {
  ScheduleReply r;
  r.site = "Larch Hollow; north";
  ScheduleBlock b;
  b.begin = "2026-11-25T20:15:00.000";
  b.end = "2026-11-25T21:00:00.000";
  b.local_begin = "2026-11-25T21:15:00+01:00";
  b.local_end = "2026-11-25T22:00:00+01:00";
  b.target = "M 33";
  b.filter = "L";
  b.sub_s = 60;
  b.subs = 40;
  b.why = why;
  r.blocks.push_back(b);
  return r;
}

// RFC 5545: CR LF at every end, lines of 75 octets at most (3.1), text escaped (3.3.11), UTC times (3.3.5).
TEST(ScheduleText, CalendarKeepsTheStandard) {
  std::string longer = "comma, semicolon; backslash \\ ";
  for (int i = 0; i < 40; ++i) longer += "\xC3\xA9";  // letters of two octets, which no fold may tear
  const std::string text = schedule_calendar(reply_with(longer), *Instant::parse("2026-11-25T12:00:00"));
  EXPECT_EQ(text.find("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:"), 0u);
  EXPECT_THAT(text, HasSubstr("DTSTAMP:20261125T120000Z\r\n"));
  EXPECT_THAT(text, HasSubstr("DTSTART:20261125T201500Z\r\nDTEND:20261125T210000Z\r\n"));
  EXPECT_THAT(text, HasSubstr("LOCATION:Larch Hollow\\; north\r\n"));
  EXPECT_THAT(text, HasSubstr("comma\\, semicolon\\; backslash \\\\"));
  std::string unfolded;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    ASSERT_EQ(line.back(), '\r');
    EXPECT_LE(line.size() - 1, 75u);
    const auto first = static_cast<unsigned char>(line[line[0] == ' ' ? 1 : 0]);
    EXPECT_NE(first & 0xC0, 0x80) << line;
    unfolded += line[0] == ' ' ? line.substr(1, line.size() - 2) : line.substr(0, line.size() - 1);
  }
  EXPECT_THAT(unfolded, HasSubstr(longer.substr(longer.size() - 80)));
}

// RFC 4180: CR LF, quotes around what holds commas, quotes doubled.
TEST(ScheduleText, TableKeepsTheStandard) {
  const std::string text = schedule_csv(reply_with("said \"so\", twice"));
  EXPECT_THAT(text, HasSubstr(",\"said \"\"so\"\", twice\"\r\n"));
  EXPECT_THAT(text, HasSubstr("2026-11-25T20:15:00.000,2026-11-25T21:00:00.000,M 33,L,40,60,"));
}

// A person reads the card by the clock on the wall; the zone is named.
TEST(ScheduleText, CardTellsLocalTime) {
  ScheduleReply r = reply_with("");
  r.time_zone = "Europe/Rome";
  r.local_sunset = "16:38";
  const std::string text = schedule_card(r);
  EXPECT_THAT(text, HasSubstr("Times are Europe/Rome."));
  EXPECT_THAT(text, HasSubstr("Sunset 16:38"));
  EXPECT_THAT(text, HasSubstr("21:15 - 22:00 M 33"));
  EXPECT_EQ(text.find("20:15"), std::string::npos);
}

}  // namespace
}  // namespace ng::app
