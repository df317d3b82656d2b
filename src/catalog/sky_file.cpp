#include "catalog/sky_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstring>
#include <tuple>

#include "catalog/mapped_file.h"
#include "catalog/sky_format.h"

namespace ng::catalog {

struct SkyFile::Mapping {
  MappedFile file;
  SkyFileFacts facts;
  std::span<const SkyLevel> levels;
  std::span<const SkyCell> cells;
  std::span<const PackedSkyStar> stars;
  std::span<const Pattern> patterns;

  // Shares the bytes out. Returns why they are not such a file, or null.
  const char* divide() {
    const char* at = file.bytes().data();
    const std::size_t bytes = file.bytes().size();
    SkyHead head{};
    if (bytes < sizeof head) return "it is shorter than its head";
    std::memcpy(&head, at, sizeof head);
    if (std::memcmp(head.magic, kSkyMagic, sizeof kSkyMagic) != 0) return "it does not begin like one";
    if (head.band[7] != 0 || head.levels > 64) return "its head is damaged";
    const std::size_t wanted =
        sizeof head + head.levels * sizeof(SkyLevel) + std::size_t{head.cells} * sizeof(SkyCell) +
        std::size_t{head.stars} * sizeof(PackedSkyStar) + std::size_t{head.patterns} * sizeof(Pattern);
    if (bytes != wanted) return "its length is wrong";
    at += sizeof head;
    const auto take = [&at]<typename T>(std::span<const T>& part, std::size_t count) {
      part = {reinterpret_cast<const T*>(at), count};
      at += part.size_bytes();
    };
    take(levels, head.levels);
    take(cells, head.cells);
    take(stars, head.stars);
    take(patterns, head.patterns);
    facts = {head.band, head.epoch_year, head.stars, head.patterns, head.reach_mag, head.covered_deg2};
    return index_fault();
  }

 private:
  // The index is read whole when it is opened: nothing that it says may lead outside the stars. (The stars that
  // patterns name are looked at when they are used.)
  [[nodiscard]] const char* index_fault() const {
    std::uint32_t cell = 0, star = 0;
    for (const SkyLevel& level : levels) {
      if (level.order > kDeepestOrder || level.first_cell != cell || level.cells >= cells.size() - cell)
        return "its index is damaged";
      const auto own = cells.subspan(cell, level.cells + 1);
      if (own.front().first_star != star || own.back().first_star != star + level.stars) return "its index is damaged";
      for (std::size_t i = 1; i < own.size(); ++i)
        if (own[i].first_star < own[i - 1].first_star || own[i].cell <= own[i - 1].cell) return "its index is damaged";
      cell += level.cells + 1;
      star += level.stars;
    }
    return cell == cells.size() && star == stars.size() ? nullptr : "its index is damaged";
  }
};

SkyFile::SkyFile(std::unique_ptr<Mapping> mapping) : mapping_(std::move(mapping)) {}
SkyFile::SkyFile(SkyFile&&) noexcept = default;
SkyFile& SkyFile::operator=(SkyFile&&) noexcept = default;
SkyFile::~SkyFile() = default;

Result<SkyFile> SkyFile::open(const std::filesystem::path& path) {
  NG_TRY(MappedFile file, MappedFile::open(path));
  auto mapping = std::make_unique<Mapping>();
  mapping->file = std::move(file);
  if (const char* why = mapping->divide())
    return Error(Code::kCorrupt, fmt::format("{} is not a star catalogue of ours, or is damaged ({}): import it again",
                                             path.string(), why));
  return SkyFile(std::move(mapping));
}

const SkyFileFacts& SkyFile::facts() const {
  return mapping_->facts;
}

std::span<const Pattern> SkyFile::patterns() const {
  return mapping_->patterns;
}

SkyStar SkyFile::star(std::uint32_t index, double year) const {
  // A damaged pattern may name a star that is not there; it then names another, and verification fails.
  index = std::min(index, static_cast<std::uint32_t>(mapping_->stars.size() - 1));
  const PackedSkyStar& p = mapping_->stars[index];
  SkyStar s;
  s.direction = packed_direction(p);
  const double years = year - mapping_->facts.epoch_year;
  if (p.pm_ra_mas != 0 || p.pm_dec_mas != 0) {
    const double ra = p.ra / kSkyTurn * 2 * kPi, dec = p.dec / kSkyTurn * 2 * kPi;
    const math::Vec3 east{-std::sin(ra), std::cos(ra), 0};
    const math::Vec3 north{-std::sin(dec) * std::cos(ra), -std::sin(dec) * std::sin(ra), std::cos(dec)};
    const double to_east = p.pm_ra_mas * kMilliarcsec * years, to_north = p.pm_dec_mas * kMilliarcsec * years;
    for (std::size_t k = 0; k < 3; ++k) s.direction[k] += to_east * east[k] + to_north * north[k];
    s.direction = math::unit(s.direction);
  }
  s.magnitude = p.millimag / 1000.0;
  if (p.colour_millimag != kSkyNoColour) s.colour = p.colour_millimag / 1000.0;
  s.error_rad = std::hypot(p.error_mas, p.motion_error_mas100 * 0.01 * years) * kMilliarcsec;
  s.index = index;
  return s;
}

std::vector<SkyStar> SkyFile::brightest(const math::Vec3& centre, double radius_rad, std::size_t count,
                                        double year) const {
  std::vector<SkyStar> found;
  const double chord = 2 * std::sin(std::min(radius_rad, kPi) / 2), farthest = chord * chord;
  const CellCover cover = cells_in_disc(centre, radius_rad);
  for (const SkyLevel& level : mapping_->levels) {
    const auto own = mapping_->cells.subspan(level.first_cell, level.cells + 1);
    std::uint32_t next = 0;  // cells before this one were looked at: neighbouring ranges may share a larger cell
    for (const CellRange& piece : cover.ranges) {
      const CellRange range = at_order(piece, cover.order, static_cast<int>(level.order));
      auto cell = std::lower_bound(own.begin(), own.end() - 1, std::max(range.first, next),
                                   [](const SkyCell& c, std::uint32_t number) { return c.cell < number; });
      for (; cell != own.end() - 1 && cell->cell < range.last; ++cell)
        for (std::uint32_t i = cell->first_star; i < (cell + 1)->first_star; ++i) {
          const SkyStar s = star(i, year);
          const math::Vec3& d = s.direction;
          const double x = d[0] - centre[0], y = d[1] - centre[1], z = d[2] - centre[2];
          if (x * x + y * y + z * z <= farthest) found.push_back(s);
        }
      next = std::max(next, range.last);
    }
    if (found.size() >= count) break;
  }
  std::sort(found.begin(), found.end(), [](const SkyStar& a, const SkyStar& b) {
    return std::tuple(a.magnitude, a.index) < std::tuple(b.magnitude, b.index);
  });
  if (found.size() > count) found.resize(count);
  return found;
}

}  // namespace ng::catalog
