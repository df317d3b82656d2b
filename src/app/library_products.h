// app/library_products.h - the masters and pictures of a workspace, each with the recipe beside it.
// Sensor results are products too.
//
// A master is NAME.fits with NAME.recipe.json below masters/, a picture NAME.png (.tif, .jpg) with NAME.recipe.toml
// below pictures/; a calibration master NAME.fits with NAME.calibration.json below masters/. What has no recipe is no
// product of ours and stays out. A sensor result is NAME.sensor.json below sensors/, and its own recipe.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"
#include "store/product_records.h"

namespace ng::app {

struct FoundProducts {
  store::Products products;           // in order of path
  std::vector<std::string> left_out;  // "PATH: why", of those that cannot be read
};

// Below `part` of the workspace: "masters", "pictures", "sensors", or a folder in one of them. Errors: kCancelled.
[[nodiscard]] Result<FoundProducts> find_products(const std::filesystem::path& workspace,
                                                  const std::filesystem::path& part, const Context& ctx);

// Masters, pictures and sensor results that were just written, by the recipes beside them, become known to the library
// of the workspace that they lie in: below its masters/, pictures/ or sensors/, where it has an index. What keeps them
// out is a note; `nightglass library rebuild` finds them later.
void enter_products(const std::vector<std::filesystem::path>& recipes, std::vector<std::string>& notes,
                    const Context& ctx);

// All files that belong to a product, itself included: those of its folder that have its name and another extension,
// and a sharp master of that name.
[[nodiscard]] std::vector<std::filesystem::path> files_of_product(const std::filesystem::path& file);

}  // namespace ng::app
