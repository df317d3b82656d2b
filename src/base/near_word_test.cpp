#include "base/near_word.h"

#include <gtest/gtest.h>

#include <array>

namespace ng {
namespace {

// Textbook pairs: "kitten" to "sitting" takes 3 changes (Levenshtein's distance, common example); a swap is one.
TEST(NearWord, Distance) {
  EXPECT_EQ(word_distance("kitten", "sitting"), 3u);
  EXPECT_EQ(word_distance("", "abc"), 3u);
  EXPECT_EQ(word_distance("abc", ""), 3u);
  EXPECT_EQ(word_distance("apreture", "aperture"), 1u);
  EXPECT_EQ(word_distance("Latitude", "latitude"), 0u);
}

TEST(NearWord, SuggestsWhatWasMeantAndNothingElse) {
  const std::array<std::string, 4> known{"aperture_mm", "focal_length_mm", "obstruction_mm", "latitude_deg"};
  EXPECT_EQ(near_word("apreture_mm", known), "aperture_mm");
  EXPECT_EQ(near_word("focal_length_cm", known), "focal_length_mm");
  EXPECT_EQ(near_word("latitude", known), "latitude_deg");
  EXPECT_EQ(near_word("colour", known), std::nullopt);
  EXPECT_EQ(near_word("x", known), std::nullopt);
}

}  // namespace
}  // namespace ng
