// app/data_folder.h - where the data that come with the program are.
#pragma once

#include <filesystem>

#include "base/result.h"

namespace ng::app {

// The built-in star catalogue: in the folder named by the environment variable NIGHTGLASS_DATA when that is set, else
// in
// ../share beside the folder of the executable. Errors: kNotFound, saying what is missing and how to get it.
[[nodiscard]] Result<std::filesystem::path> built_in_star_catalogue();
// The built-in catalogue of deep-sky objects, in the same folder.
[[nodiscard]] Result<std::filesystem::path> built_in_object_catalogue();
// The letters and numbers of bright stars (catalog/star_names.h), in the same folder.
[[nodiscard]] Result<std::filesystem::path> built_in_star_names();

}  // namespace ng::app
