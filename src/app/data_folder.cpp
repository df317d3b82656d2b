#include "app/data_folder.h"

#include <fmt/format.h>

#include <cstdlib>

namespace ng::app {

Result<std::filesystem::path> built_in_star_catalogue() {
  namespace fs = std::filesystem;
  std::error_code ignored;
  fs::path folder;
  if (const char* named = std::getenv("NIGHTGLASS_DATA");
      named != nullptr && *named != '\0') {  // NOLINT(concurrency-mt-unsafe): nothing here sets the environment
    folder = named;
  } else {
    folder = fs::read_symlink("/proc/self/exe", ignored).parent_path().parent_path() / "share";
  }
  fs::path path = folder / "stars.ngstars";
  if (fs::is_regular_file(path, ignored)) return path;
  return Error(
      Code::kNotFound,
      fmt::format("there is no star catalogue at {}: run scripts/fetch-catalogue.sh and build again, name its "
                  "folder in NIGHTGLASS_DATA, or go on without it by --catalogue none (all stars are drawn then)",
                  path.string()));
}

}  // namespace ng::app
