// build_catalogue STARS.json OUT: compiles the star catalogue of the npm package d3-celestial 0.7.35
// (data/stars.14.json, GeoJSON points) into the file that catalog/star_file.h reads.
//
// In the source, longitude is right ascension in -180..180 degrees, J2000 on a grid of 1e-4 degrees; `mag` is V, `bv` a
// text that may be empty. The translations of star names in that package come from elsewhere and are not touched.
#include <fmt/format.h>

#include <charconv>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "base/angle.h"
#include "catalog/star_file.h"

namespace {

std::optional<double> number(const nlohmann::json& value) {
  if (value.is_number()) return value.get<double>();
  if (!value.is_string()) return std::nullopt;
  const auto& text = value.get_ref<const std::string&>();
  double result = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), result);
  return error == std::errc() && end == text.data() + text.size() ? std::optional(result) : std::nullopt;
}

int fail(const std::string& why) {
  fmt::print(stderr, "build_catalogue: {}\n", why);
  return 1;
}

int build(const std::filesystem::path& source, const std::filesystem::path& target) {
  std::ifstream in(source, std::ios::binary);
  if (!in) return fail(fmt::format("cannot read {}", source.string()));
  const auto document = nlohmann::json::parse(in, nullptr, false);
  if (document.is_discarded() || !document.contains("features"))
    return fail(fmt::format("{} is not the GeoJSON that was expected", source.string()));

  std::vector<ng::catalog::CatalogStar> stars;
  for (const auto& feature : document["features"]) {
    const auto& place = feature.at("geometry").at("coordinates");
    const auto& facts = feature.at("properties");
    const auto ra = number(place.at(0)), dec = number(place.at(1)), v = number(facts.at("mag"));
    if (!ra || !dec || !v) return fail(fmt::format("star {} lacks a position or magnitude", stars.size()));
    stars.push_back(
        {ng::deg_to_rad(*ra), ng::deg_to_rad(*dec), *v, facts.contains("bv") ? number(facts["bv"]) : std::nullopt});
  }
  const auto bytes = ng::catalog::encode_star_file(stars);
  if (!bytes.ok()) return fail(bytes.error().message());

  std::error_code ignored;
  std::filesystem::create_directories(target.parent_path(), ignored);
  auto part = target;
  part += ".part";
  std::ofstream out(part, std::ios::binary);
  out.write(reinterpret_cast<const char*>(bytes->data()), static_cast<std::streamsize>(bytes->size()));
  out.close();
  if (!out) return fail(fmt::format("cannot write {}", part.string()));
  std::filesystem::rename(part, target);
  fmt::print("{} stars\n", stars.size());
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    fmt::print(stderr, "use: build_catalogue STARS.json OUT\n");
    return 2;
  }
  try {
    return build(argv[1], argv[2]);
  } catch (const std::exception& error) {
    return fail(error.what());
  }
}
