// app/sky_catalogues.h - the star catalogues that there are: the built-in one and those that were imported.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "catalog/sky_file.h"

namespace ng::app {

struct NamedSky {
  std::string name;
  catalog::SkyFile file;
};

struct SkyCatalogues {
  std::vector<NamedSky> all;
  std::vector<std::string> notes;  // of files that could not be used
  [[nodiscard]] std::vector<const catalog::SkyFile*> files() const;
};

// Where the workspace keeps imported catalogues; `workspace` as for find_workspace(). Errors: those of that.
[[nodiscard]] Result<std::filesystem::path> catalogue_folder(const std::optional<std::filesystem::path>& workspace);

// `places`: sky files (*.ngsky), or folders of them. A damaged file in a folder is passed over with a note; one that
// was named is an error. Those of the workspace come with them: of the one that is named, else of the nearest upwards,
// where there is one. Errors: kNotFound (a place that is not there, or not one catalogue), kCorrupt.
[[nodiscard]] Result<SkyCatalogues> open_catalogues(const std::vector<std::filesystem::path>& places, bool built_in,
                                                    const std::optional<std::filesystem::path>& workspace);

}  // namespace ng::app
