// app/recipe_change.h - a recipe as a list of steps with their keys, and wishes that change it.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "app/recipe.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

// What a step shall do otherwise. Keys that are not named stay as they are; null has a value found anew.
struct RecipeChange {
  std::string step;
  std::optional<bool> on;
  Json values = Json::object();
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("step", self.step);
    visit("on", self.on);
    visit("values", self.values);
  }
};

// Errors: kInvalidInput (no such step or key, a step that is always done, a value of the wrong kind or out of its
// limits), naming STEP.KEY.
[[nodiscard]] Result<void> change_recipe(Recipe& recipe, const std::vector<RecipeChange>& changes);

struct RecipeRequest {
  std::optional<std::filesystem::path> picture;  // whose recipe; empty: the automatic default
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("picture", self.picture);
  }
};
struct RecipeKeyView {
  std::string name, kind;  // "number", "whole", "text", "list"
  double low = 0, high = 0;
  std::string meaning;
  bool found = false;  // found from the data where it is null
  Json value;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("kind", self.kind);
    visit("low", self.low);
    visit("high", self.high);
    visit("meaning", self.meaning);
    visit("found", self.found);
    visit("value", self.value);
  }
};
struct RecipeStepView {
  std::string name;
  bool always = false, on = true;
  std::vector<RecipeKeyView> keys;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("always", self.always);
    visit("on", self.on);
    visit("keys", self.keys);
  }
};
struct RecipeReply {
  std::vector<std::string> masters;  // as recorded
  std::vector<RecipeStepView> steps;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("masters", self.masters);
    visit("steps", self.steps);
  }
};
// Errors: those of read_recipe().
[[nodiscard]] Result<RecipeReply> view_recipe(const RecipeRequest& request, const Context& ctx);

}  // namespace ng::app
