#include <fmt/format.h>

#include "app/recipe.h"

namespace ng::app {
namespace {

std::string text_of(bool value) {
  return value ? "true" : "false";
}
std::string text_of(int value) {
  return fmt::format("{}", value);
}
std::string text_of(double value) {
  std::string text = fmt::format("{}", value);  // the shortest that reads back the same
  if (text.find_first_of(".en") == std::string::npos) text += ".0";
  return text;
}
std::string text_of(const std::string& value) {
  std::string text = "\"";
  for (const char c : value) {
    if (c == '"' || c == '\\') {
      text += '\\';
      text += c;
    } else if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) {
      text += fmt::format("\\u{:04X}", static_cast<unsigned char>(c));
    } else {
      text += c;
    }
  }
  return text + "\"";
}
template <typename T>
std::string text_of(const std::vector<T>& values) {
  std::string text = "[";
  for (const T& value : values) text += (text.size() > 1 ? ", " : "") + text_of(value);
  return text + "]";
}
template <typename T>
std::string text_of(const std::optional<T>& value) {
  return value ? text_of(*value) : "";
}
std::string text_of(const std::vector<std::vector<double>>& lists) {
  if (lists.empty()) return "";
  std::string text = "[\n";
  for (const auto& list : lists) text += "  " + text_of<double>(list) + ",\n";
  return text + "]";
}

}  // namespace

std::string format_recipe(const Recipe& recipe) {
  std::string text =
      "# How this picture was made. To change it: edit a copy and run\n"
      "#   nightglass finish MASTER... --out PICTURE --recipe COPY\n"
      "# A step that is left out, or says on = false, is not done; a key that is left out is found from the data.\n";
  for (const RecipeInput& input : recipe.inputs) {
    text += "\n[[input]]\n";
    text += fmt::format("path = {}\nfilter = {}\nxxh128 = {}\n", text_of(input.path), text_of(input.filter),
                        text_of(input.xxh128));
  }
  Recipe::steps(recipe, [&](const auto& step) {
    text += fmt::format("\n[[step]]\nname = \"{}\"\non = {}\n", step.kName, text_of(step.on));
    std::decay_t<decltype(step)>::fields(step, [&](const char* key, const auto& value, const RecipeKey& about) {
      const std::string written = text_of(value);
      if (!written.empty()) text += fmt::format("{} = {}  # {}\n", key, written, about.meaning);
    });
  });
  return text;
}

}  // namespace ng::app
