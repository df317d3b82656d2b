#include "catalog/star_file.h"

#include <fmt/format.h>

#include <cstring>
#include <tuple>

#include "catalog/mapped_file.h"
#include "catalog/star_format.h"

namespace ng::catalog {

struct StarFile::Mapping {
  MappedFile file;
  std::span<const std::uint32_t> first;  // of each zone, and one past the last
  std::span<const PackedStar> stars;
};

namespace {

// Why the bytes are not a star file, or nothing.
const char* fault(const char* data, std::size_t bytes) {
  StarFileHead head{};
  if (bytes < sizeof head) return "it is shorter than its head";
  std::memcpy(&head, data, sizeof head);
  if (std::memcmp(head.magic, kStarMagic, sizeof kStarMagic) != 0) return "it does not begin like one";
  if (head.zones != kStarZones) return "its zones are of another version";
  const std::size_t index_bytes = (kStarZones + 1) * sizeof(std::uint32_t);
  if (bytes != sizeof head + index_bytes + std::size_t{head.stars} * sizeof(PackedStar)) return "its length is wrong";
  const auto* first = reinterpret_cast<const std::uint32_t*>(data + sizeof head);
  if (first[0] != 0 || first[kStarZones] != head.stars) return "its index is damaged";
  for (std::uint32_t z = 0; z < kStarZones; ++z)
    if (first[z] > first[z + 1]) return "its index is damaged";
  return nullptr;
}

}  // namespace

StarFile::StarFile(std::unique_ptr<Mapping> mapping) : mapping_(std::move(mapping)) {}
StarFile::StarFile(StarFile&&) noexcept = default;
StarFile& StarFile::operator=(StarFile&&) noexcept = default;
StarFile::~StarFile() = default;

Result<StarFile> StarFile::open(const std::filesystem::path& path) {
  NG_TRY(MappedFile file, MappedFile::open(path));
  auto mapping = std::make_unique<Mapping>();
  mapping->file = std::move(file);

  const char* data = mapping->file.bytes().data();
  if (const char* why = fault(data, mapping->file.bytes().size()))
    return Error(Code::kCorrupt,
                 fmt::format("{} is not a star catalogue of ours: {}; build it again", path.string(), why));
  const auto* head = reinterpret_cast<const StarFileHead*>(data);
  mapping->first = {reinterpret_cast<const std::uint32_t*>(data + sizeof *head), kStarZones + 1};
  mapping->stars = {reinterpret_cast<const PackedStar*>(data + sizeof *head + mapping->first.size_bytes()),
                    head->stars};
  return StarFile(std::move(mapping));
}

std::size_t StarFile::size() const {
  return mapping_->stars.size();
}

std::vector<CatalogStar> StarFile::cone(double ra_rad, double dec_rad, double radius_rad, double faintest_v_mag) const {
  std::vector<CatalogStar> found;
  const double south = std::max(-kPi / 2, dec_rad - radius_rad);
  const double north = std::min(kPi / 2, dec_rad + radius_rad);
  if (!(south <= north)) return found;
  // Half the width of the cone in right ascension; all of it when the cone holds a pole. A little is added for
  // rounding.
  double reach = 2 * kPi;
  if (dec_rad + radius_rad < kPi / 2 && dec_rad - radius_rad > -kPi / 2)
    reach = std::asin(std::min(1.0, std::sin(radius_rad) / std::cos(dec_rad))) + 1e-8;

  const auto ra_less = [](const PackedStar& s, double ra) { return packed_ra_rad(s.ra) < ra; };
  const auto take = [&](const PackedStar& s) {
    if (s.v_millimag > faintest_v_mag * 1000) return;
    const double ra = packed_ra_rad(s.ra), dec = packed_dec_rad(s.dec);
    const double sd = std::sin((dec - dec_rad) / 2), sa = std::sin((ra - ra_rad) / 2);
    const double h = sd * sd + std::cos(dec) * std::cos(dec_rad) * sa * sa;
    if (2 * std::asin(std::min(1.0, std::sqrt(h))) > radius_rad) return;
    found.push_back({ra, dec, s.v_millimag / 1000.0,
                     s.colour_millimag == kNoColour ? std::nullopt : std::optional(s.colour_millimag / 1000.0)});
  };
  const auto take_between = [&](std::span<const PackedStar> zone, double ra0, double ra1) {
    for (auto s = std::lower_bound(zone.begin(), zone.end(), ra0, ra_less); s != zone.end(); ++s) {
      if (packed_ra_rad(s->ra) > ra1) break;
      take(*s);
    }
  };
  const double centre = ra_rad - 2 * kPi * std::floor(ra_rad / (2 * kPi));
  for (int z = star_zone(south - 1e-8); z <= star_zone(north + 1e-8); ++z) {
    const auto zone = mapping_->stars.subspan(mapping_->first[z], mapping_->first[z + 1] - mapping_->first[z]);
    if (reach >= kPi) {
      take_between(zone, 0, 2 * kPi);
    } else {
      take_between(zone, centre - reach, centre + reach);
      if (centre - reach < 0) take_between(zone, centre - reach + 2 * kPi, 2 * kPi);
      if (centre + reach > 2 * kPi) take_between(zone, 0, centre + reach - 2 * kPi);
    }
  }
  std::sort(found.begin(), found.end(), [](const CatalogStar& a, const CatalogStar& b) {
    return std::tuple(a.v_mag, a.ra_rad, a.dec_rad) < std::tuple(b.v_mag, b.ra_rad, b.dec_rad);
  });
  return found;
}

}  // namespace ng::catalog
