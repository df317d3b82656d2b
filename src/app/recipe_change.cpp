#include "app/recipe_change.h"

#include <fmt/format.h>

#include "app/recipe_beside.h"

namespace ng::app {
namespace {

template <typename T>
const char* kind_of() {
  if constexpr (detail::kIsOptional<T>) {
    return kind_of<typename T::value_type>();
  } else if constexpr (std::is_same_v<T, double>) {
    return "number";
  } else if constexpr (std::is_same_v<T, int>) {
    return "whole";
  } else if constexpr (std::is_same_v<T, std::string>) {
    return "text";
  } else {
    return "list";
  }
}

Error wrong(const std::string& key, const Json& json, const std::string& wanted) {
  return {Code::kInvalidInput, fmt::format("{} is {}: give {}", key, json.dump(), wanted)};
}

Result<void> set(const std::string& key, const Json& json, const RecipeKey& about, double& value) {
  if (!json.is_number()) return wrong(key, json, "a number");
  const auto number = json.get<double>();
  if (!(number >= about.low && number <= about.high))
    return wrong(key, json, fmt::format("a value from {} to {}", about.low, about.high));
  value = number;
  return {};
}
Result<void> set(const std::string& key, const Json& json, const RecipeKey& about, int& value) {
  if (!json.is_number_integer()) return wrong(key, json, "a whole number");
  double number = 0;
  NG_CHECK(set(key, json, about, number));
  value = static_cast<int>(number);
  return {};
}
Result<void> set(const std::string& key, const Json& json, const RecipeKey&, std::string& value) {
  if (!json.is_string()) return wrong(key, json, "a text");
  value = json.get<std::string>();
  return {};
}
template <typename T>
Result<void> set(const std::string& key, const Json& json, const RecipeKey& about, std::optional<T>& value) {
  if (json.is_null()) {
    value.reset();
    return {};
  }
  return set(key, json, about, value.emplace());
}
template <typename T>
Result<void> set(const std::string& key, const Json& json, const RecipeKey& about, std::vector<T>& value) {
  value.clear();
  if (json.is_null()) return {};
  if (!json.is_array()) return wrong(key, json, "a list");
  for (const Json& item : json) NG_CHECK(set(key, item, about, value.emplace_back()));
  return {};
}

template <typename Step>
Result<void> change_step(Step& step, const RecipeChange& change) {
  if (Step::kAlways && change.on == false)
    return Error(Code::kInvalidInput, fmt::format("step '{}' is always done: change its values instead", Step::kName));
  step.on = change.on.value_or(step.on);
  if (!change.values.is_object())
    return wrong(std::string(Step::kName) + ".values", change.values, "an object of keys and values");
  for (const auto& [name, json] : change.values.items()) {
    std::vector<std::string> names;
    bool known = false;
    Result<void> result;
    Step::fields(step, [&, n = name, &value = json](const char* key, auto& field, const RecipeKey& about) {
      names.emplace_back(key);
      if (n != key) return;
      known = true;
      result = set(fmt::format("{}.{}", Step::kName, key), value, about, field);
    });
    NG_CHECK(std::move(result));
    if (!known)
      return Error(Code::kInvalidInput, fmt::format("step '{}' has no key '{}'; its keys are {}", Step::kName, name,
                                                    fmt::join(names, ", ")));
  }
  return {};
}

}  // namespace

Result<void> change_recipe(Recipe& recipe, const std::vector<RecipeChange>& changes) {
  for (const RecipeChange& change : changes) {
    std::vector<std::string> names;
    bool known = false;
    Result<void> result;
    Recipe::steps(recipe, [&](auto& step) {
      names.emplace_back(step.kName);
      if (change.step != step.kName) return;
      known = true;
      result = change_step(step, change);
    });
    NG_CHECK(std::move(result));
    if (!known)
      return Error(Code::kInvalidInput,
                   fmt::format("there is no step '{}'; steps are {}", change.step, fmt::join(names, ", ")));
  }
  if (recipe.encode.bits != 8 && recipe.encode.bits != 16)
    return Error(Code::kInvalidInput, fmt::format("encode.bits is {}: give 8 or 16", recipe.encode.bits));
  return {};
}

Result<RecipeReply> view_recipe(const RecipeRequest& request, const Context&) {
  Recipe recipe;
  if (request.picture) {
    NG_TRY(recipe, read_recipe(recipe_path(*request.picture)));
  }
  RecipeReply reply;
  for (const RecipeInput& input : recipe.inputs) reply.masters.push_back(input.path);
  Recipe::steps(recipe, [&](const auto& step) {
    using Step = std::decay_t<decltype(step)>;
    RecipeStepView view{step.kName, step.kAlways, step.on, {}};
    Step::fields(step, [&]<typename T>(const char* key, const T& value, const RecipeKey& about) {
      const bool list = std::string_view(kind_of<T>()) == "list";
      view.keys.push_back({key, kind_of<T>(), about.low, about.high, about.meaning, detail::kIsOptional<T> || list,
                           list && to_json(value).empty() ? Json(nullptr) : to_json(value)});
    });
    reply.steps.push_back(std::move(view));
  });
  return reply;
}

}  // namespace ng::app
