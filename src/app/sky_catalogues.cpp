#include "app/sky_catalogues.h"

#include <algorithm>

#include "app/data_folder.h"
#include "app/workspace.h"

namespace ng::app {

std::vector<const catalog::SkyFile*> SkyCatalogues::files() const {
  std::vector<const catalog::SkyFile*> list;
  for (const NamedSky& sky : all) list.push_back(&sky.file);
  return list;
}

Result<std::filesystem::path> catalogue_folder(const std::optional<std::filesystem::path>& workspace) {
  std::error_code ignored;
  NG_TRY(const std::filesystem::path folder, find_workspace(workspace, std::filesystem::current_path(ignored)));
  return folder / "catalogues";
}

Result<SkyCatalogues> open_catalogues(const std::vector<std::filesystem::path>& named, bool built_in,
                                      const std::optional<std::filesystem::path>& workspace) {
  namespace fs = std::filesystem;
  SkyCatalogues list;
  std::vector<fs::path> places = named;
  std::error_code failure;
  if (auto own = catalogue_folder(workspace); !own.ok()) {
    if (workspace) return std::move(own).error();
  } else if (fs::is_directory(*own, failure) && std::none_of(named.begin(), named.end(), [&](const fs::path& place) {
               return fs::equivalent(place, *own, failure);
             })) {
    places.push_back(*own);
  }
  if (built_in) {
    if (const auto stars = built_in_star_catalogue(); !stars.ok()) {
      list.notes.push_back(stars.error().message());
    } else {
      auto file = catalog::SkyFile::open(fs::path(*stars).replace_extension(".ngsky"));
      if (!file.ok()) return std::move(file).error();
      list.all.push_back({"built-in", std::move(file).value()});
    }
  }
  for (const fs::path& place : places) {
    std::error_code ignored;
    if (!fs::is_directory(place, ignored)) {
      NG_TRY(catalog::SkyFile file, catalog::SkyFile::open(place));
      list.all.push_back({place.stem().string(), std::move(file)});
      continue;
    }
    std::vector<fs::path> files;
    for (const auto& entry : fs::directory_iterator(place, ignored))
      if (entry.path().extension() == ".ngsky") files.push_back(entry.path());
    std::sort(files.begin(), files.end());
    for (const fs::path& path : files) {
      auto file = catalog::SkyFile::open(path);
      if (file.ok()) {
        list.all.push_back({path.stem().string(), std::move(file).value()});
      } else {
        list.notes.push_back(file.error().message());
      }
    }
  }
  if (list.all.empty())
    return Error(Code::kNotFound, list.notes.empty()
                                      ? "there is no star catalogue: import one, or let the built-in one be used"
                                      : list.notes.front());
  return list;
}

}  // namespace ng::app
