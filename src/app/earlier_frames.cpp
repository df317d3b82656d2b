#include "app/earlier_frames.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

namespace ng::app {
namespace fs = std::filesystem;

Result<std::vector<EarlierFrame>> earlier_frames(const fs::path& masters) {
  std::vector<fs::path> recipes;
  std::error_code error;
  for (fs::directory_iterator it(masters, error), end; !error && it != end; it.increment(error))
    if (it->path().string().ends_with(".recipe.json")) recipes.push_back(it->path());
  if (recipes.empty())
    return Error(
        Code::kNotFound,
        fmt::format("{}: holds no master with its recipe to add to; reduce without --add first", masters.string()));
  std::sort(recipes.begin(), recipes.end());

  std::vector<EarlierFrame> frames;
  std::set<std::string> seen;
  for (const fs::path& path : recipes) {
    std::ifstream in(path);
    const auto recipe = nlohmann::json::parse(in, nullptr, false);
    for (const char* part : {"lights", "calibration"}) {
      if (!recipe.is_object() || !recipe.contains(part) || !recipe[part].is_array())
        return Error(Code::kCorrupt, fmt::format("{}: is no recipe of a master", path.string()));
      for (const auto& entry : recipe[part]) {
        if (!entry.is_object() || !entry.contains("path") || !entry.contains("xxh3_128"))
          return Error(Code::kCorrupt, fmt::format("{}: an entry of its {} is incomplete", path.string(), part));
        EarlierFrame frame{entry["path"].get<std::string>(), entry["xxh3_128"].get<std::string>(),
                           path.filename().string()};
        if (!seen.insert(frame.hash).second) continue;
        if (!fs::exists(frame.path, error))
          return Error(Code::kNotFound,
                       fmt::format("{}: is gone, but {} was made of it; put it back, or reduce all frames anew",
                                   frame.path.string(), frame.master));
        frames.push_back(std::move(frame));
      }
    }
  }
  return frames;
}

}  // namespace ng::app
