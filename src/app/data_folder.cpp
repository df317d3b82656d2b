#include "app/data_folder.h"

#include <fmt/format.h>

#include <cstdlib>

namespace ng::app {

namespace {

std::filesystem::path data_folder() {
  if (const char* named = std::getenv("NIGHTGLASS_DATA");
      named != nullptr && *named != '\0')  // NOLINT(concurrency-mt-unsafe): nothing here sets the environment
    return named;
  std::error_code ignored;
  return std::filesystem::read_symlink("/proc/self/exe", ignored).parent_path().parent_path() / "share";
}

Result<std::filesystem::path> built_in(const char* name, const char* what) {
  std::error_code ignored;
  std::filesystem::path path = data_folder() / name;
  if (std::filesystem::is_regular_file(path, ignored)) return path;
  return Error(Code::kNotFound,
               fmt::format("there is no {} at {}: run scripts/fetch-catalogue.sh and build again, or name "
                           "its folder in NIGHTGLASS_DATA",
                           what, path.string()));
}

}  // namespace

Result<std::filesystem::path> built_in_star_catalogue() {
  std::error_code ignored;
  std::filesystem::path path = data_folder() / "stars.ngstars";
  if (std::filesystem::is_regular_file(path, ignored)) return path;
  return Error(
      Code::kNotFound,
      fmt::format("there is no star catalogue at {}: run scripts/fetch-catalogue.sh and build again, name its "
                  "folder in NIGHTGLASS_DATA, or go on without it by --catalogue none (all stars are drawn then)",
                  path.string()));
}

Result<std::filesystem::path> built_in_object_catalogue() {
  return built_in("objects.ngobjects", "catalogue of objects");
}

Result<std::filesystem::path> built_in_star_names() {
  return built_in("star_names.tsv", "list of star names");
}

}  // namespace ng::app
