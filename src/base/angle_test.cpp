#include "base/angle.h"

#include <gtest/gtest.h>

namespace ng {
namespace {

TEST(Angle, ReadsSexagesimalTexts) {
  EXPECT_NEAR(*parse_sexagesimal("17 23 58.976"), 17.399715556, 1e-9);
  EXPECT_NEAR(*parse_sexagesimal("-00:39:36.09"), -0.66002500, 1e-9);
  EXPECT_NEAR(*parse_sexagesimal("+34 04"), 34.066666667, 1e-9);
  EXPECT_NEAR(*parse_sexagesimal("12.5"), 12.5, 0);
  for (const char* text : {"", "abc", "12 60 00", "12 -3 00", "1 2 3 4", "-02 -40 -29.055"})
    EXPECT_FALSE(parse_sexagesimal(text)) << text;
}

TEST(Angle, WritesThemAgain) {
  EXPECT_EQ(format_ra(97.97916667), "06 31 55.0");
  EXPECT_EQ(format_ra(359.99999), "00 00 00.0");
  EXPECT_EQ(format_dec(-0.66), "-00 39 36");
  EXPECT_EQ(format_dec(4.9427777), "+04 56 34");
}

}  // namespace
}  // namespace ng
