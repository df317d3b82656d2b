// app/recipe_beside.h - the recipe that a finished picture was made by.
#pragma once

#include <filesystem>
#include <optional>

#include "app/recipe.h"

namespace ng::app {

// PICTURE.recipe.toml.
[[nodiscard]] std::filesystem::path recipe_path(const std::filesystem::path& picture);
// Nothing where it is not there or cannot be read.
[[nodiscard]] std::optional<Recipe> recipe_beside(const std::filesystem::path& picture);

}  // namespace ng::app
