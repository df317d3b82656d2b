#include "frame/bayer.h"

#include <gtest/gtest.h>

#include "frame/facts.h"

namespace ng {
namespace {

TEST(Bayer, PatternsShiftAndFlip) {
  EXPECT_EQ(bayer_plane(BayerPattern::kRggb, 0, 0), 0);
  EXPECT_EQ(bayer_plane(BayerPattern::kGrbg, 0, 1), 2);
  EXPECT_EQ(bayer_shifted(BayerPattern::kRggb, 1, 0), BayerPattern::kGrbg);
  EXPECT_EQ(bayer_shifted(BayerPattern::kRggb, 1, 1), BayerPattern::kBggr);
  EXPECT_EQ(bayer_flipped(BayerPattern::kRggb, 4), BayerPattern::kGbrg);
  EXPECT_EQ(bayer_flipped(BayerPattern::kRggb, 5), BayerPattern::kRggb);
}

TEST(Bayer, WhatTheUserSaysGoesFirst) {
  FrameFacts facts;
  facts.planes = 1;
  EXPECT_FALSE(facts.mosaic(std::nullopt));
  EXPECT_EQ(facts.mosaic(BayerPattern::kGrbg), BayerPattern::kGrbg);
  facts.bayer = BayerPattern::kRggb;
  EXPECT_EQ(facts.mosaic(std::nullopt), BayerPattern::kRggb);
  EXPECT_EQ(facts.mosaic(BayerPattern::kGrbg), BayerPattern::kGrbg);
  facts.planes = 3;  // colours that are there already
  EXPECT_FALSE(facts.mosaic(BayerPattern::kGrbg));
}

TEST(Bayer, NamesReadAndWritten) {
  EXPECT_EQ(parse_bayer("grbg"), BayerPattern::kGrbg);
  EXPECT_FALSE(parse_bayer("RGB"));
  EXPECT_FALSE(parse_bayer("TRUE"));
  EXPECT_EQ(to_string(BayerPattern::kGbrg), "GBRG");
}

}  // namespace
}  // namespace ng
