#include "app/header_wcs.h"

#include "app/recipe_beside.h"
#include "app/recorded_path.h"
#include "app/wcs_cards.h"
#include "app/workspace.h"
#include "io/byte_source.h"
#include "io/fits_layout.h"

namespace ng::app {
namespace fs = std::filesystem;

Result<Wcs> header_wcs(const fs::path& file) {
  NG_TRY(auto bytes, io::open_bytes(file));
  NG_TRY(const io::FitsLayout layout, io::read_fits_layout(*bytes).in(file.string()));
  const auto wcs = wcs_of_cards(layout.cards);
  if (!wcs)
    return Error(Code::kNoMatch, file.string() + ": the header carries no solution (TAN) that could be trusted");
  return *wcs;
}

Result<Wcs> picture_wcs(const fs::path& file) {
  const auto recipe = recipe_beside(file);
  if (!recipe || recipe->inputs.empty()) return header_wcs(file);
  NG_TRY(const fs::path workspace, find_workspace(std::nullopt, fs::absolute(file).parent_path()));
  const auto master = recorded_path(workspace, recipe->inputs.front().path);
  if (!master)
    return Error(Code::kNotFound, recipe->inputs.front().path + ": the master of this picture is not there any more");
  NG_TRY(Wcs wcs, header_wcs(workspace / *master));
  wcs.reference_x -= recipe->crop.x_px.value_or(0);
  wcs.reference_y -= recipe->crop.y_px.value_or(0);
  return wcs;
}

}  // namespace ng::app
