#include "catalog/star_names.h"

#include <fmt/format.h>

#include <cmath>
#include <fstream>
#include <sstream>

#include "base/angle.h"

namespace ng::catalog {

Result<std::vector<NamedStar>> read_star_names(const std::filesystem::path& path) {
  std::ifstream in(path);
  if (!in) return Error(Code::kNotFound, "cannot open " + path.string());
  std::vector<NamedStar> stars;
  std::string line;
  for (int number = 1; std::getline(in, line); ++number) {
    std::istringstream cells(line);
    double ra = 0, dec = 0;
    NamedStar star;
    if (!(cells >> ra >> dec >> star.v_mag) || cells.get() != '\t' || !std::getline(cells, star.name) ||
        star.name.empty() || !(std::fabs(dec) <= 90))
      return Error(Code::kCorrupt,
                   fmt::format("{}, line {}: no star with place, brightness and name", path.string(), number));
    star.place = {deg_to_rad(ra), deg_to_rad(dec)};
    stars.push_back(std::move(star));
  }
  return stars;
}

}  // namespace ng::catalog
