#include "app/targets.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "app/data_folder.h"
#include "base/angle.h"
#include "sky/constellation.h"

namespace ng::app {

Result<catalog::ObjectFile> open_objects() {
  NG_TRY(const std::filesystem::path path, built_in_object_catalogue());
  return catalog::ObjectFile::open(path);
}

Result<catalog::SkyObject> find_object(const catalog::ObjectFile& objects, const std::string& name) {
  if (const auto number = objects.find(name)) return objects.object(*number);
  const auto like = objects.suggest(name, 5);
  return Error(Code::kNotFound,
               like.empty() ? fmt::format("no object is called '{}'; give its place by --ra-deg and --dec-deg", name)
                            : fmt::format("no object is called '{}'; near it are: {}", name, fmt::join(like, ", ")));
}

std::string whereabouts(const catalog::ObjectFile& objects, const catalog::SkyObject& object) {
  std::string text = fmt::format("in {}", sky::constellation(object.place).name);
  if (object.host) text += fmt::format(", in the galaxy {}", objects.object(*object.host).names.front());
  return text;
}

std::string title_of(const catalog::SkyObject& object) {
  const auto proper = [](const std::string& name) {
    return std::none_of(name.begin(), name.end(), [](char c) { return c >= '0' && c <= '9'; });
  };
  std::string best;
  for (const std::string& name : object.names)
    if (&name != &object.names.front() && proper(name) && name.size() > best.size()) best = name;
  return best.empty() ? object.names.front() : object.names.front() + ", " + best;
}

Result<void> refuse_near_sun(const std::string& name, double sun_separation_rad) {
  if (sun_separation_rad >= kSunRefused_rad) return {};
  return Error(
      Code::kInvalidInput,
      fmt::format("{} stands {:.0f} degrees from the Sun, within the 30 in which it is refused: never point any "
                  "optics near the Sun without a certified front filter; choose another date by --at",
                  name, rad_to_deg(sun_separation_rad)));
}

}  // namespace ng::app
