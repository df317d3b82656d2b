// app/sky_catalogues.h - the star catalogues that there are: the built-in one and those that were imported.
#pragma once

#include <filesystem>
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

// `places`: sky files (*.ngsky), or folders of them. A damaged file in a folder is passed over with a note; one that
// was named is an error. Errors: kNotFound (a place that is not there, or not one catalogue), kCorrupt.
[[nodiscard]] Result<SkyCatalogues> open_catalogues(const std::vector<std::filesystem::path>& places, bool built_in);

}  // namespace ng::app
