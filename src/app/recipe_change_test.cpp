#include "app/recipe_change.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "app/message_read.h"

namespace ng::app {
namespace {

using testing::HasSubstr;

RecipeChange change(const char* step, std::optional<bool> on, const char* values = "{}") {
  return {step, on, Json::parse(values)};
}

TEST(RecipeChange, SetsAndEmptiesWhatIsNamedAndNothingElse) {
  Recipe recipe;
  recipe.tone.black_e = 12;
  recipe.crop.x_px = 7;
  const auto changed =
      change_recipe(recipe, {change("noise", false), change("tone", {}, R"({"saturation": 1.5, "black_e": null})"),
                             change("channels", {}, R"({"luminance": "Ha"})"),
                             change("background", {}, R"({"coefficients_e": [[1, 2], [3]]})")});
  ASSERT_TRUE(changed.ok()) << changed.error().message();
  EXPECT_FALSE(recipe.noise.on);
  EXPECT_TRUE(recipe.tone.on);
  EXPECT_EQ(recipe.tone.saturation, 1.5);
  EXPECT_FALSE(recipe.tone.black_e.has_value());
  EXPECT_EQ(recipe.channels.luminance, "Ha");
  EXPECT_EQ(recipe.background.coefficients_e, (std::vector<std::vector<double>>{{1, 2}, {3}}));
  EXPECT_EQ(recipe.crop.x_px, 7);
  EXPECT_EQ(recipe.tone.sky_display, Recipe().tone.sky_display);
}

TEST(RecipeChange, SaysWhatIsWrongAndWhere) {
  const std::pair<RecipeChange, const char*> cases[] = {
      {change("noise", {}, R"({"strength": 9})"), "noise.strength is 9: give a value from 0 to 1"},
      {change("noise", {}, R"({"strength": "much"})"), "noise.strength is \"much\": give a number"},
      {change("noise", {}, R"({"scales": 2.5})"), "noise.scales is 2.5: give a whole number"},
      {change("noise", {}, R"({"level": 1})"), "step 'noise' has no key 'level'; its keys are strength"},
      {change("sharpen", true), "there is no step 'sharpen'; steps are crop, background"},
      {change("encode", false), "step 'encode' is always done"},
      {change("encode", {}, R"({"bits": 12})"), "encode.bits is 12: give 8 or 16"},
      {change("tone", {}, "[1]"), "tone.values is [1]: give an object"},
  };
  for (const auto& [wish, words] : cases) {
    Recipe recipe;
    const auto changed = change_recipe(recipe, {wish});
    ASSERT_FALSE(changed.ok()) << words;
    EXPECT_THAT(changed.error().message(), HasSubstr(words));
  }
}

TEST(RecipeChange, AViewOfTheDefaultIsARecipeThatCanBeSentBack) {
  const auto view = view_recipe({}, {});
  ASSERT_TRUE(view.ok());
  ASSERT_EQ(view->steps.size(), 8u);
  std::vector<RecipeChange> changes;
  for (const RecipeStepView& step : view->steps) {
    RecipeChange& same = changes.emplace_back(RecipeChange{step.name, step.on});
    for (const RecipeKeyView& key : step.keys) {
      EXPECT_TRUE(key.found || !key.value.is_null()) << step.name << "." << key.name;
      same.values[key.name] = key.value;
    }
  }
  // Through JSON, as from the page.
  std::vector<RecipeChange> read;
  ASSERT_TRUE(MessageReader(".").read(to_json(changes), "changes", read).ok());
  Recipe recipe;
  ASSERT_TRUE(change_recipe(recipe, read).ok());
  EXPECT_EQ(format_recipe(recipe), format_recipe(Recipe()));
}

}  // namespace
}  // namespace ng::app
