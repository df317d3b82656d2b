#include "app/outdated_sharp.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <set>

#include "app/master_file.h"
#include "app/sharp_master.h"
#include "app/text_file.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

// Hashes of the lights that a master's recipe names; nothing where it cannot be read.
std::optional<std::set<std::string>> lights_of(const fs::path& master) {
  const auto text = read_text(master_recipe_path(master));
  const json recipe = text.ok() ? json::parse(*text, nullptr, false) : json();
  if (!recipe.is_object() || !recipe.contains("lights") || !recipe["lights"].is_array()) return std::nullopt;
  std::set<std::string> lights;
  for (const json& light : recipe["lights"])
    if (light.is_object() && light.contains("xxh3_128") && light["xxh3_128"].is_string())
      lights.insert(light["xxh3_128"].get<std::string>());
  return lights;
}

}  // namespace

std::optional<OutdatedSharp> outdated_sharp(const fs::path& master) {
  const fs::path sharp = sharp_path(master);
  std::error_code ignored;
  if (!fs::is_regular_file(sharp, ignored)) return std::nullopt;
  const auto now = lights_of(master);
  if (!now) return std::nullopt;
  const std::string name = master.filename().string();
  const auto then = lights_of(sharp);
  if (!then)
    return OutdatedSharp{sharp, fmt::format("its recipe cannot be read, so that nothing tells whether it holds the "
                                            "lights of {}; reduce with --sharp makes it anew",
                                            name)};
  if (*then == *now) return std::nullopt;
  return OutdatedSharp{
      sharp,
      fmt::format("holds the {} lights of an earlier reduction, {} holds {}{}; reduce with --sharp makes it anew",
                  then->size(), name, now->size(), then->size() == now->size() ? " others" : "")};
}

}  // namespace ng::app
