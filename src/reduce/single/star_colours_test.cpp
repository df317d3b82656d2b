#include "reduce/single/star_colours.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"

namespace ng::reduce {
namespace {

constexpr int kSide = 320;
const std::array<double, 3> kSky = {60, 100, 80};

BackgroundMap flat_sky(double level) {
  return {kSide, kSide, 64, Image<float>(5, 5, 1, static_cast<float>(level)), Image<float>(5, 5, 1, 1.0f)};
}

// Stars of FWHM 2.4 px whose red is 0.6 and whose blue is 0.4 of their green, one in ten four times as red.
struct Field {
  Image<float> mosaic{kSide, kSide};
  StarList list{kSide, kSide, {}};
  std::array<BackgroundMap, 3> background{flat_sky(kSky[0]), flat_sky(kSky[1]), flat_sky(kSky[2])};

  Field(BayerPattern pattern, int stars) {
    math::Random random(11, 0);
    for (int i = 0; i < stars; ++i) {
      Star s;
      s.x = 16 + 30 * (i % 10) + 2 * random.uniform();
      s.y = 16 + 30 * (i / 10 % 10) + 2 * random.uniform();
      s.flux = 20000 + 20000 * random.uniform();
      s.flux_error = 200;
      list.stars.push_back(s);
    }
    for (int y = 0; y < kSide; ++y) {
      for (int x = 0; x < kSide; ++x) {
        const int p = bayer_plane(pattern, x, y);
        double v = kSky[static_cast<std::size_t>(p)] + 3 * random.normal();
        for (std::size_t i = 0; i < list.stars.size(); ++i) {
          const Star& s = list.stars[i];
          const double r2 = (x - s.x) * (x - s.x) + (y - s.y) * (y - s.y);
          if (r2 > 100) continue;
          const double tint = p == 1 ? 1 : p == 2 ? 0.4 : i % 10 == 3 ? 2.4 : 0.6;
          v += tint * s.flux / (2 * 3.14159265 * 1.04) * std::exp(-r2 / (2 * 1.04));
        }
        mosaic.plane()(x, y) = static_cast<float>(v);
      }
    }
  }
};

// The light of one colour of a star so narrow depends on its place in the cell by some 4 %; a median over 80 stars
// knows it four times better than the limit here.
TEST(StarColours, AreThoseOfTheUsualStar) {
  for (const BayerPattern pattern : {BayerPattern::kRggb, BayerPattern::kGbrg}) {
    const Field field(pattern, 80);
    const StarColours colours = star_colours(field.mosaic.plane(), pattern, field.background, field.list, 4);
    EXPECT_NEAR(colours.red, 0.6, 0.02);
    EXPECT_NEAR(colours.blue, 0.4, 0.02);
  }
}

// Under a bright sky greens that answer it differently by a few per cent are no other colours.
TEST(StarColours, TakeNoNoticeOfGreensThatDifferALittle) {
  Field field(BayerPattern::kRggb, 80);
  for (int y = 0; y < kSide; y += 2)
    for (int x = 1; x < kSide; x += 2) field.mosaic.plane()(x, y) += 60;
  const StarColours colours = star_colours(field.mosaic.plane(), BayerPattern::kRggb, field.background, field.list, 4);
  EXPECT_NEAR(colours.green_rows, 1, 0.04);
  EXPECT_FALSE(pattern_is_off(colours));
}

// Seen through a pattern that is one pixel off, red (0.6) and blue (0.4) are the two greens, and green is red and blue.
TEST(StarColours, TellAPatternThatIsOnePixelOff) {
  const Field field(BayerPattern::kRggb, 80);
  const auto seen_as = [&](BayerPattern pattern, const std::array<double, 3>& sky) {
    const std::array<BackgroundMap, 3> background = {flat_sky(sky[0]), flat_sky(sky[1]), flat_sky(sky[2])};
    return star_colours(field.mosaic.plane(), pattern, background, field.list, 4);
  };
  EXPECT_NEAR(seen_as(BayerPattern::kRggb, kSky).green_rows, 1, 0.04);
  EXPECT_FALSE(pattern_is_off(seen_as(BayerPattern::kRggb, kSky)));
  EXPECT_FALSE(pattern_is_off(seen_as(BayerPattern::kBggr, {80, 100, 60})));  // nobody can tell that
  for (const BayerPattern pattern : {BayerPattern::kGrbg, BayerPattern::kGbrg})
    EXPECT_TRUE(pattern_is_off(seen_as(pattern, {100, 70, 100}))) << to_string(pattern);
  EXPECT_FALSE(pattern_is_off({}));
}

TEST(StarColours, AreUnknownOfFewStarsOrFlaggedOnes) {
  const Field few(BayerPattern::kRggb, 4);
  EXPECT_EQ(star_colours(few.mosaic.plane(), BayerPattern::kRggb, few.background, few.list, 4).red, 0);
  Field flagged(BayerPattern::kRggb, 30);
  for (Star& s : flagged.list.stars) s.flags = kStarSaturated;
  EXPECT_EQ(star_colours(flagged.mosaic.plane(), BayerPattern::kRggb, flagged.background, flagged.list, 4).blue, 0);
  EXPECT_EQ(star_colours(few.mosaic.plane(), BayerPattern::kRggb, few.background, {kSide, kSide, {}}, 4).blue, 0);
}

}  // namespace
}  // namespace ng::reduce
