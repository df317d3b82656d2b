#include "plan/object_brightness.h"

#include <algorithm>
#include <string_view>
#include <utility>

namespace ng::plan {
namespace {

using catalog::ObjectKind;
using catalog::SkyObject;

constexpr double kBrightestNebula = 20.5, kFaintestNebula = 24.5;  // mean, mag/arcsec^2
constexpr double kUnknown_mag = 1.5;                               // what is little known is so much fainter

bool magnitude_is_its_own(ObjectKind kind) {
  return kind == ObjectKind::kGalaxy || kind == ObjectKind::kGlobularCluster || kind == ObjectKind::kOpenCluster ||
         kind == ObjectKind::kPlanetaryNebula;
}

bool has_proper_name(const SkyObject& o) {
  return std::any_of(o.names.begin(), o.names.end(), [](const std::string& name) {
    return std::none_of(name.begin(), name.end(), [](char c) { return c >= '0' && c <= '9'; });
  });
}

double usual_brightness(const SkyObject& o) {
  const double later = list_promise(o) < 0.7 || !has_proper_name(o) ? kUnknown_mag : 0;
  switch (o.kind) {
    case ObjectKind::kPlanetaryNebula:
      return 21.0 + later;
    case ObjectKind::kSupernovaRemnant:
      return 23.0 + later;
    case ObjectKind::kDarkNebula:
      return 22.0 + 0.4 * (6 - o.opacity.value_or(3));  // what it hides
    case ObjectKind::kGalaxy:
      return 23.0;
    case ObjectKind::kGalaxyCluster:
      return 25.5;
    case ObjectKind::kReflectionNebula:
      return 22.5 + later;
    default:
      return 22.0 + later;
  }
}

}  // namespace

ObjectBrightness object_brightness(const SkyObject& o) {
  if (const auto mean = catalog::surface_brightness(o))
    if (magnitude_is_its_own(o.kind) || (*mean >= kBrightestNebula && *mean <= kFaintestNebula)) return {*mean, false};
  return {usual_brightness(o), true};
}

double list_promise(const SkyObject& o) {
  constexpr std::pair<std::string_view, double> kLists[] = {
      {"M ", 1.0},  {"NGC ", 0.85}, {"IC ", 0.8},  {"C ", 0.9},   {"Sh", 0.65},  {"B ", 0.65},
      {"Cr ", 0.5}, {"LDN ", 0.3},  {"LBN ", 0.4}, {"Ced ", 0.4}, {"VdB ", 0.5}, {"SNR ", 0.5}};
  for (const auto& [list, promise] : kLists)
    if (o.names.front().starts_with(list)) return promise;
  return 0.4;
}

}  // namespace ng::plan
