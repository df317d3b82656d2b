// build_objects FOLDER OUT: compiles the deep-sky objects of the npm package d3-celestial 0.7.35 (dsos.20.json,
// messier.json, dsonames.json) into the file that catalog/object_file.h reads.
//
// In the source, longitude is right ascension in -180..180 degrees; `mag` is a text, 999 where not known, and the
// opacity class of a dark nebula; `dim` is "major x minor" in arcminutes, or one number. Of the names the English ones
// are taken.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "base/angle.h"
#include "catalog/object_file.h"
#include "catalog/object_name.h"

namespace {

using ng::catalog::ObjectKind;
using Json = nlohmann::json;

Json read(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) throw std::runtime_error(fmt::format("cannot read {}", path.string()));
  return Json::parse(in);
}

std::optional<double> number(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc() && end == text.data() + text.size() ? std::optional(value) : std::nullopt;
}

std::optional<ObjectKind> kind_of(const std::string& type) {
  static const std::map<std::string, ObjectKind> kKinds{{"s", ObjectKind::kGalaxy},
                                                        {"g", ObjectKind::kGalaxy},
                                                        {"s0", ObjectKind::kGalaxy},
                                                        {"e", ObjectKind::kGalaxy},
                                                        {"i", ObjectKind::kGalaxy},
                                                        {"sd", ObjectKind::kGalaxy},
                                                        {"gg", ObjectKind::kGalaxyCluster},
                                                        {"oc", ObjectKind::kOpenCluster},
                                                        {"gc", ObjectKind::kGlobularCluster},
                                                        {"en", ObjectKind::kEmissionNebula},
                                                        {"rn", ObjectKind::kReflectionNebula},
                                                        {"bn", ObjectKind::kBrightNebula},
                                                        {"sfr", ObjectKind::kStarForming},
                                                        {"pn", ObjectKind::kPlanetaryNebula},
                                                        {"snr", ObjectKind::kSupernovaRemnant},
                                                        {"dn", ObjectKind::kDarkNebula}};
  const auto found = kKinds.find(type);
  return found == kKinds.end() ? std::nullopt : std::optional(found->second);
}

// What the list of a designation says of its objects, where the source contradicts it.
ObjectKind kind_by_list(const std::string& id, ObjectKind kind) {
  for (const char* list : {"LDN ", "B "})
    if (id.starts_with(list)) return ObjectKind::kDarkNebula;
  if (id.starts_with("SNR ")) return ObjectKind::kSupernovaRemnant;
  return id.starts_with("ACO ") ? ObjectKind::kGalaxyCluster : kind;
}

// What the source has wrong or lacks and many would miss (size of the old lists, from memory).
void correct(std::vector<ng::catalog::SkyObject>& objects) {
  for (ng::catalog::SkyObject& o : objects)
    if (o.names.front() == "IC 1396") {
      o.major_arcmin = 170;
      o.minor_arcmin = 140;
    } else if (o.names.front() == "NGC 2244") {
      std::erase(o.names, "Rosette Nebula");  // the cluster in its middle
    } else if (o.names.front() == "NGC 2238") {
      o.names.insert(o.names.begin() + 1, "NGC 2237");  // one nebula, numbered in parts
    }
}

void set_size(ng::catalog::SkyObject& object, const std::string& dim) {
  const auto cross = dim.find('x');
  auto a = number(dim.substr(0, cross));
  auto b = cross == std::string::npos ? a : number(dim.substr(cross + 1));
  if (!a || !(*a > 0)) return;
  if (!b || !(*b > 0)) b = a;
  object.major_arcmin = std::max(*a, *b);
  object.minor_arcmin = std::min(*a, *b);
}

void add_name(ng::catalog::SkyObject& object, const std::string& name) {
  if (name.empty()) return;
  const std::string key = ng::catalog::name_key(name);
  for (const std::string& known : object.names)
    if (ng::catalog::name_key(known) == key) return;
  object.names.push_back(name);
}

int build(const std::filesystem::path& folder, const std::filesystem::path& target) {
  std::map<std::string, std::vector<std::string>> messier;  // designation or Messier name -> names
  std::map<std::string, double> messier_magnitude;          // V; in the long list it is not always
  const Json messier_list = read(folder / "messier.json"), object_list = read(folder / "dsos.20.json");
  for (const Json& feature : messier_list.at("features")) {
    const Json& p = feature.at("properties");
    const auto name = "M " + p.at("name").get<std::string>().substr(1);
    for (const std::string& key : {p.at("desig").get<std::string>(), name}) {
      if (key.empty()) continue;
      messier_magnitude[ng::catalog::name_key(key)] = p.at("mag").get<double>();
      messier[ng::catalog::name_key(key)] = {name, p.at("desig").get<std::string>(), p.at("alt").get<std::string>()};
    }
  }
  std::map<std::string, std::string> proper;
  const Json named = read(folder / "dsonames.json");
  for (const auto& [key, names] : named.items())
    if (names.contains("name")) proper[ng::catalog::name_key(key)] = names["name"].get<std::string>();

  std::vector<ng::catalog::SkyObject> objects;
  int nowhere = 0;
  for (const Json& feature : object_list.at("features")) {
    const Json& p = feature.at("properties");
    const auto kind = kind_of(p.at("type").get<std::string>());
    if (!kind) throw std::runtime_error("an object of unknown type " + p.at("type").get<std::string>());
    ng::catalog::SkyObject object;
    object.kind = kind_by_list(feature.at("id").get<std::string>(), *kind);
    const Json& place = feature.at("geometry").at("coordinates");
    object.place = {ng::deg_to_rad(place.at(0).get<double>()), ng::deg_to_rad(place.at(1).get<double>())};
    if (std::fabs(object.place.dec_rad) > ng::kPi / 2) {  // a slip of the source
      ++nowhere;
      continue;
    }
    set_size(object, p.at("dim").get<std::string>());
    const auto magnitude = number(p.at("mag").get<std::string>());
    if (magnitude && *magnitude < 90) {
      if (object.kind == ObjectKind::kDarkNebula) {
        object.opacity = static_cast<int>(*magnitude);
      } else {
        object.magnitude = magnitude;
      }
    }
    const auto id = feature.at("id").get<std::string>();
    const std::string designations[] = {p.at("desig").get<std::string>(), id};
    for (const std::string& name : designations)
      if (const auto m = messier.find(ng::catalog::name_key(name)); m != messier.end()) add_name(object, m->second[0]);
    for (const std::string& name : designations) add_name(object, name);
    for (const std::string& name : std::vector<std::string>(object.names)) {
      if (const auto m = messier.find(ng::catalog::name_key(name)); m != messier.end()) {
        object.magnitude = messier_magnitude.at(m->first);
        add_name(object, m->second[1]);
        add_name(object, m->second[2]);
      }
      if (const auto n = proper.find(ng::catalog::name_key(name)); n != proper.end()) add_name(object, n->second);
    }
    objects.push_back(std::move(object));
  }
  correct(objects);
  const auto bytes = ng::catalog::encode_object_file(objects);
  if (!bytes.ok()) throw std::runtime_error(bytes.error().message());

  std::error_code ignored;
  std::filesystem::create_directories(target.parent_path(), ignored);
  auto part = target;
  part += ".part";
  std::ofstream out(part, std::ios::binary);
  out.write(reinterpret_cast<const char*>(bytes->data()), static_cast<std::streamsize>(bytes->size()));
  out.close();
  if (!out) throw std::runtime_error(fmt::format("cannot write {}", part.string()));
  std::filesystem::rename(part, target);
  fmt::print("{} objects, {} left out whose declination does not exist\n", objects.size(), nowhere);
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    fmt::print(stderr, "use: build_objects FOLDER OUT\n");
    return 2;
  }
  try {
    return build(argv[1], argv[2]);
  } catch (const std::exception& error) {
    fmt::print(stderr, "build_objects: {}\n", error.what());
    return 1;
  }
}
