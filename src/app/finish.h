// app/finish.h - masters to a finished picture, by a recipe.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "app/recipe_change.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

struct FinishRequest {
  std::vector<std::filesystem::path> masters{};   // empty: those that the recipe names
  std::filesystem::path out{};                    // .png, .tif or .jpg
  std::optional<std::filesystem::path> recipe{};  // empty: the automatic default
  std::vector<RecipeChange> changes{};            // to that recipe
  bool overwrite = false;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("masters", self.masters);
    visit("out", self.out);
    visit("recipe", self.recipe);
    visit("changes", self.changes);
    visit("overwrite", self.overwrite);
  }
};

struct FinishInput {
  std::string path;
  std::string filter;
  std::string xxh128;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("filter", self.filter);
    visit("xxh128", self.xxh128);
  }
};

struct FinishStep {
  std::string name;
  bool on = true;
  Json values;  // every key of the recipe, with what was found
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("on", self.on);
    visit("values", self.values);
  }
};

struct FinishMeasured {  // null where it was not needed
  std::optional<double> sky_share;
  std::vector<double> background_scatter_e;
  std::optional<double> red_factor_error, blue_factor_error;
  std::optional<int> balance_stars;
  std::optional<int> cores_repaired;
  std::optional<double> sky_e, sky_noise_e;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("sky_share", self.sky_share);
    visit("background_scatter_e", self.background_scatter_e);
    visit("red_factor_error", self.red_factor_error);
    visit("blue_factor_error", self.blue_factor_error);
    visit("balance_stars", self.balance_stars);
    visit("cores_repaired", self.cores_repaired);
    visit("sky_e", self.sky_e);
    visit("sky_noise_e", self.sky_noise_e);
  }
};

struct FinishReply {
  std::string path;
  std::string recipe;
  int width = 0;
  int height = 0;
  int planes = 0;  // 1 grey, 3 colour
  std::vector<FinishInput> inputs;
  std::vector<FinishStep> steps;
  FinishMeasured measured;
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("recipe", self.recipe);
    visit("width", self.width);
    visit("height", self.height);
    visit("planes", self.planes);
    visit("inputs", self.inputs);
    visit("steps", self.steps);
    visit("measured", self.measured);
    visit("notes", self.notes);
  }
};

// Writes the picture and, beside it, PICTURE.recipe.toml. Errors: those of the recipe (recipe.h), its changes
// (recipe_change.h) and the masters (finish_masters.h); kExists for either file, unless overwrite; kTooFew (no common
// coverage, an image too small); kUnsupported (another extension); kIo; kCancelled. After an error nothing new is left
// behind.
[[nodiscard]] Result<FinishReply> finish_picture(const FinishRequest& request, const Context& ctx);

}  // namespace ng::app
