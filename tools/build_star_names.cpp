// build_star_names FOLDER OUT: the stars with a Bayer letter or a Flamsteed number, from starnames.json and
// stars.14.json of the npm package d3-celestial 0.7.35, as the table that catalog/star_names.h reads.
//
// Designations only (lists of the CDS, IV/27A and IV/22); of proper names none is taken. Greek letters are spelled out.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>
#include <vector>

namespace {

using Json = nlohmann::json;

Json read(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) throw std::runtime_error(fmt::format("cannot read {}", path.string()));
  return Json::parse(in);
}

constexpr std::array<const char*, 24> kGreek{
    "alpha", "beta", "gamma",   "delta", "epsilon", "zeta",  "eta", "theta",   "iota", "kappa", "lambda", "mu",
    "nu",    "xi",   "omicron", "pi",    "rho",     "sigma", "tau", "upsilon", "phi",  "chi",   "psi",    "omega"};

// The first letter, spelled where it is Greek (two bytes of UTF-8: alpha to rho, sigma to omega), what follows as it
// is.
std::string spelled(const std::string& bayer) {
  if (bayer.size() < 2) return bayer;
  const auto a = static_cast<unsigned char>(bayer[0]), b = static_cast<unsigned char>(bayer[1]);
  const int code = (a & 0x1F) << 6 | (b & 0x3F);
  if ((a & 0xE0) != 0xC0 || code < 0x3B1 || code > 0x3C9 || code == 0x3C2) return bayer;
  const int index = code - 0x3B1 - (code > 0x3C2 ? 1 : 0);
  std::string rest = bayer.substr(2);
  constexpr std::array<const char*, 10> kRaised{"\u2070", "\u00B9", "\u00B2", "\u00B3", "\u2074",
                                                "\u2075", "\u2076", "\u2077", "\u2078", "\u2079"};
  for (std::size_t digit = 0; digit < kRaised.size(); ++digit)
    if (const auto at = rest.find(kRaised[digit]); at != std::string::npos)
      rest.replace(at, std::string(kRaised[digit]).size(), std::to_string(digit));
  return kGreek[static_cast<std::size_t>(index)] + rest;
}

struct Row {
  double ra_deg, dec_deg, magnitude;
  std::string name;
};

int build(const std::filesystem::path& folder, const std::filesystem::path& target) {
  const Json names = read(folder / "starnames.json");
  std::vector<Row> rows;
  const Json stars = read(folder / "stars.14.json");
  for (const Json& feature : stars.at("features")) {
    const auto known = names.find(std::to_string(feature.at("id").get<int>()));
    if (known == names.end()) continue;
    const auto bayer = known->value("bayer", ""), flamsteed = known->value("flam", "");
    if (bayer.empty() && flamsteed.empty()) continue;
    const Json& place = feature.at("geometry").at("coordinates");
    const double ra = place.at(0).get<double>();
    rows.push_back({ra < 0 ? ra + 360 : ra, place.at(1).get<double>(), feature.at("properties").at("mag").get<double>(),
                    (bayer.empty() ? flamsteed : spelled(bayer)) + " " + known->value("c", "")});
  }
  std::stable_sort(rows.begin(), rows.end(), [](const Row& a, const Row& b) { return a.magnitude < b.magnitude; });
  std::error_code ignored;
  std::filesystem::create_directories(target.parent_path(), ignored);
  auto part = target;
  part += ".part";
  std::ofstream out(part);
  for (const Row& r : rows)
    out << fmt::format("{:.5f}\t{:.5f}\t{:.2f}\t{}\n", r.ra_deg, r.dec_deg, r.magnitude, r.name);
  out.close();
  if (!out) throw std::runtime_error(fmt::format("cannot write {}", part.string()));
  std::filesystem::rename(part, target);
  fmt::print("{} stars with a Bayer letter or a Flamsteed number\n", rows.size());
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    fmt::print(stderr, "use: build_star_names FOLDER OUT\n");
    return 2;
  }
  try {
    return build(argv[1], argv[2]);
  } catch (const std::exception& error) {
    fmt::print(stderr, "build_star_names: {}\n", error.what());
    return 1;
  }
}
