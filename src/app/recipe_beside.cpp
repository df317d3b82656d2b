#include "app/recipe_beside.h"

namespace ng::app {
namespace fs = std::filesystem;

fs::path recipe_path(const fs::path& picture) {
  fs::path path = picture;
  return path.replace_extension(".recipe.toml");
}

std::optional<Recipe> recipe_beside(const fs::path& picture) {
  std::error_code error;
  const fs::path path = recipe_path(picture);
  if (!fs::exists(path, error)) return std::nullopt;
  auto recipe = read_recipe(path);
  return recipe.ok() ? std::optional<Recipe>(*std::move(recipe)) : std::nullopt;
}

}  // namespace ng::app
