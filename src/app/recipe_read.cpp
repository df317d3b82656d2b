#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <fstream>
#include <sstream>

#include "app/recipe.h"

namespace ng::app {
namespace {

// Everything a reader needs to complain properly.
class Reader {
 public:
  explicit Reader(std::string name) : name_(std::move(name)) {}

  [[nodiscard]] Error error(const toml::source_region& where, const std::string& message) const {
    return {Code::kInvalidInput, fmt::format("{}, line {}: {}", name_, where.begin.line, message)};
  }

  [[nodiscard]] Result<void> get(const toml::node& node, const std::string& key, const RecipeKey&, bool& out) const {
    if (!node.is_boolean()) return error(node.source(), key + " must be true or false");
    out = node.as_boolean()->get();
    return {};
  }
  [[nodiscard]] Result<void> get(const toml::node& node, const std::string& key, const RecipeKey&,
                                 std::string& out) const {
    if (!node.is_string()) return error(node.source(), key + " must be a text in quotation marks");
    out = node.as_string()->get();
    return {};
  }
  [[nodiscard]] Result<void> get(const toml::node& node, const std::string& key, const RecipeKey& about,
                                 double& out) const {
    if (!node.is_number()) return error(node.source(), key + " must be a number");
    const double value = *node.value<double>();
    if (!(value >= about.low && value <= about.high))
      return error(node.source(), fmt::format("{} = {} is outside {} to {}", key, value, about.low, about.high));
    out = value;
    return {};
  }
  [[nodiscard]] Result<void> get(const toml::node& node, const std::string& key, const RecipeKey& about,
                                 int& out) const {
    if (!node.is_integer()) return error(node.source(), key + " must be a whole number");
    double value = 0;
    NG_CHECK(get(node, key, about, value));
    out = static_cast<int>(value);
    return {};
  }
  template <typename T>
  [[nodiscard]] Result<void> get(const toml::node& node, const std::string& key, const RecipeKey& about,
                                 std::optional<T>& out) const {
    T value{};
    NG_CHECK(get(node, key, about, value));
    out = value;
    return {};
  }
  template <typename T>
  [[nodiscard]] Result<void> get(const toml::node& node, const std::string& key, const RecipeKey& about,
                                 std::vector<T>& out) const {
    if (!node.is_array()) return error(node.source(), key + " must be a list");
    for (const toml::node& item : *node.as_array()) {
      T value{};
      NG_CHECK(get(item, key, about, value));
      out.push_back(std::move(value));
    }
    return {};
  }

 private:
  std::string name_;
};

// Takes the keys of a table one by one; what nobody asked for is unknown.
class Table {
 public:
  Table(const Reader& reader, const toml::table& table, std::string what)
      : reader_(reader), table_(table), what_(std::move(what)) {}

  template <typename T>
  void take(const char* key, T& out, const RecipeKey& about) {
    known_.push_back(key);
    const toml::node* node = table_.get(key);
    if (node == nullptr || !state_.ok()) return;
    state_ = reader_.get(*node, key, about, out);
  }
  [[nodiscard]] Result<void> done() const {
    NG_CHECK(Result<void>(state_));
    for (const auto& [key, node] : table_)
      if (std::find(known_.begin(), known_.end(), key.str()) == known_.end())
        return reader_.error(key.source(), fmt::format("unknown key '{}' in {}; its keys are {}", key.str(), what_,
                                                       fmt::join(known_, ", ")));
    return {};
  }

 private:
  const Reader& reader_;
  const toml::table& table_;
  std::string what_;
  std::vector<std::string> known_;
  Result<void> state_;
};

Result<const toml::array*> tables_of(const Reader& reader, const toml::table& root, const char* key) {
  const toml::node* node = root.get(key);
  if (node == nullptr) return nullptr;
  const toml::array* list = node->as_array();
  if (list == nullptr || (!list->empty() && !list->is_homogeneous<toml::table>()))
    return reader.error(node->source(), fmt::format("write {0} as [[{0}]] tables", key));
  return list;
}

template <typename Step>
Result<void> read_step(const Reader& reader, const toml::table& table, Step& step) {
  Table keys(reader, table, fmt::format("step '{}'", Step::kName));
  std::string name;
  step.on = true;
  keys.take("name", name, {});
  keys.take("on", step.on, {});
  Step::fields(step, [&](const char* key, auto& value, const RecipeKey& about) { keys.take(key, value, about); });
  NG_CHECK(keys.done());
  if (Step::kAlways && !step.on)
    return reader.error(table.get("on")->source(),
                        fmt::format("step '{}' cannot be switched off; leave it out to use its defaults", Step::kName));
  return {};
}

Result<void> read_steps(const Reader& reader, const toml::array& list, Recipe& recipe) {
  std::vector<std::string> names;
  Recipe::steps(recipe, [&](const auto& step) { names.emplace_back(step.kName); });
  std::size_t next = 0;  // index of the first step that may still come
  for (const toml::node& node : list) {
    const toml::table& table = *node.as_table();
    const auto name = table["name"].value<std::string>();
    if (!name)
      return reader.error(node.source(), "a step has no name; steps are " + fmt::format("{}", fmt::join(names, ", ")));
    const auto found = std::find(names.begin(), names.end(), *name);
    const auto& where = table.get("name")->source();
    if (found == names.end())
      return reader.error(where, fmt::format("unknown step '{}'; steps are {}", *name, fmt::join(names, ", ")));
    const auto index = static_cast<std::size_t>(found - names.begin());
    if (index < next)
      return reader.error(where, fmt::format("step '{}' comes twice or too late; steps run in the order {}", *name,
                                             fmt::join(names, ", ")));
    next = index + 1;
    Result<void> read;
    Recipe::steps(recipe, [&](auto& step) {
      if (*name == step.kName) read = read_step(reader, table, step);
    });
    NG_CHECK(std::move(read));
  }
  return {};
}

}  // namespace

Result<Recipe> parse_recipe(const std::string& text, const std::string& name) {
  const Reader reader(name);
  toml::table root;
  try {
    root = toml::parse(text);
  } catch (const toml::parse_error& error) {
    return reader.error(error.source(), std::string(error.description()));
  }
  for (const auto& [key, node] : root)
    if (key != "input" && key != "step")
      return reader.error(key.source(),
                          fmt::format("unknown key '{}'; a recipe holds [[input]] and [[step]]", key.str()));
  Recipe recipe;
  Recipe::steps(recipe, [](auto& step) { step.on = step.kAlways; });
  NG_TRY(const toml::array* inputs, tables_of(reader, root, "input"));
  for (std::size_t i = 0; inputs != nullptr && i < inputs->size(); ++i) {
    RecipeInput input;
    Table keys(reader, *inputs->get(i)->as_table(), "an input");
    keys.take("path", input.path, {});
    keys.take("filter", input.filter, {});
    keys.take("xxh128", input.xxh128, {});
    NG_CHECK(keys.done());
    recipe.inputs.push_back(std::move(input));
  }
  NG_TRY(const toml::array* steps, tables_of(reader, root, "step"));
  if (steps == nullptr) return Error(Code::kInvalidInput, name + ": the recipe has no [[step]]");
  NG_CHECK(read_steps(reader, *steps, recipe));
  if (recipe.encode.bits != 8 && recipe.encode.bits != 16)
    return Error(Code::kInvalidInput, name + ": bits in step 'encode' must be 8 or 16");
  return recipe;
}

Result<Recipe> read_recipe(const std::filesystem::path& path) {
  std::error_code failure;
  if (!std::filesystem::exists(path, failure))
    return Error(Code::kNotFound, fmt::format("there is no recipe {}", path.string()));
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  if (!file || !(text << file.rdbuf()))
    return Error(Code::kIo, fmt::format("cannot read the recipe {}", path.string()));
  return parse_recipe(text.str(), path.filename().string());
}

}  // namespace ng::app
