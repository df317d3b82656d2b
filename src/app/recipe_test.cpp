#include "app/recipe.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>

namespace ng::app {
namespace {

using testing::HasSubstr;

std::string refusal(const std::string& text) {
  const auto recipe = parse_recipe(text, "my.toml");
  EXPECT_FALSE(recipe.ok()) << text;
  return recipe.ok() ? "" : recipe.error().message();
}

Recipe full() {
  Recipe r;
  r.inputs = {{"a \"b\"\\c.fits", "L", "00ff"}, {"R.fits", "R", "11ee"}};
  r.crop.x_px = 3;
  r.crop.width_px = 400;
  r.background.degree = 1;
  r.background.coefficients_e = {{1.0 / 3, -2e-17, 1e11}, {0.1, 5, -0.0}};
  r.channels.luminance = "L";
  r.balance.red_factor = 1.2187734682463827;
  r.cores.on = false;
  r.noise.strength = 0;
  r.tone.black_e = -13.006173747355156;
  r.tone.bend_per_e = 1e-7;
  r.encode.bits = 8;
  return r;
}

TEST(Recipe, ReadsBackTheSameBits) {
  const Recipe before = full();
  const std::string text = format_recipe(before);
  const auto read = parse_recipe(text, "my.toml");
  ASSERT_TRUE(read.ok()) << read.error().message();
  EXPECT_EQ(format_recipe(*read), text);
  EXPECT_EQ(read->inputs[0].path, before.inputs[0].path);
  EXPECT_EQ(read->crop.x_px, 3);
  EXPECT_FALSE(read->crop.y_px);
  EXPECT_EQ(read->background.coefficients_e, before.background.coefficients_e);
  EXPECT_EQ(*read->balance.red_factor, *before.balance.red_factor);
  EXPECT_FALSE(read->cores.on);
  EXPECT_EQ(*read->tone.black_e, *before.tone.black_e);
  EXPECT_EQ(*read->tone.bend_per_e, 1e-7);
  EXPECT_EQ(read->encode.bits, 8);
}

TEST(Recipe, WhatIsNotListedIsNotDone) {
  const auto recipe = parse_recipe("[[step]]\nname = 'tone'\nsaturation = 2\n", "my.toml");
  ASSERT_TRUE(recipe.ok());
  EXPECT_TRUE(recipe->tone.on);
  EXPECT_EQ(recipe->tone.saturation, 2);  // a whole number is a number
  EXPECT_FALSE(recipe->crop.on);
  EXPECT_FALSE(recipe->noise.on);
  EXPECT_TRUE(recipe->channels.on);  // without these two there is no picture
  EXPECT_TRUE(recipe->encode.on);
}

TEST(Recipe, RefusalsNameLineAndKey) {
  EXPECT_THAT(refusal("[[step]]\nname = 'noise'\nstrenght = 0.5\n"),
              testing::AllOf(HasSubstr("my.toml, line 3"), HasSubstr("'strenght'"), HasSubstr("strength")));
  EXPECT_THAT(refusal("[[step]]\nname = 'noise'\n\nstrength = 1.5\n"),
              testing::AllOf(HasSubstr("line 4"), HasSubstr("strength = 1.5 is outside 0 to 1")));
  EXPECT_THAT(refusal("[[step]]\nname = 'noise'\nscales = 2.5\n"), HasSubstr("scales must be a whole number"));
  EXPECT_THAT(refusal("[[step]]\nname = 'noise'\nstrength = '1'\n"), HasSubstr("strength must be a number"));
  EXPECT_THAT(refusal("[[step]]\nname = 'noise'\nstrength = nan\n"), HasSubstr("outside"));
  EXPECT_THAT(refusal("[[step]]\nname = 'noise'\non = 1\n"), HasSubstr("on must be true or false"));
  EXPECT_THAT(refusal("[[step]]\nname = 'background'\ndegree = 1\ncoefficients_e = [[1, 'x']]\n"),
              testing::AllOf(HasSubstr("line 4"), HasSubstr("coefficients_e")));
  EXPECT_THAT(refusal("[[step]]\nname = 'tones'\n"), testing::AllOf(HasSubstr("line 2"), HasSubstr("'tones'")));
  EXPECT_THAT(refusal("[[step]]\non = true\n"), HasSubstr("no name"));
  EXPECT_THAT(refusal("[[step]]\nname = 'tone'\n[[step]]\nname = 'noise'\n"),
              testing::AllOf(HasSubstr("line 4"), HasSubstr("too late")));
  EXPECT_THAT(refusal("[[step]]\nname = 'tone'\n[[step]]\nname = 'tone'\n"), HasSubstr("twice"));
  EXPECT_THAT(refusal("[[step]]\nname = 'encode'\non = false\n"), HasSubstr("cannot be switched off"));
  EXPECT_THAT(refusal("[[step]]\nname = 'encode'\nbits = 12\n"), HasSubstr("8 or 16"));
  EXPECT_THAT(refusal("[[step]]\nname = tone\n"), HasSubstr("my.toml, line 2"));
  EXPECT_THAT(refusal("[step]\nname = 'tone'\n"), HasSubstr("[[step]]"));
  EXPECT_THAT(refusal("stesp = 1\n"), testing::AllOf(HasSubstr("line 1"), HasSubstr("'stesp'")));
  EXPECT_THAT(refusal("[[input]]\nfile = 'x'\n"), HasSubstr("unknown key 'file' in an input"));
  EXPECT_THAT(refusal(""), HasSubstr("no [[step]]"));
  const auto gone = read_recipe("/nowhere/my.toml");
  ASSERT_FALSE(gone.ok());
  EXPECT_EQ(gone.error().code(), Code::kNotFound);
}

}  // namespace
}  // namespace ng::app
