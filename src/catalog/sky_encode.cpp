#include <fmt/format.h>

#include <algorithm>
#include <cstring>
#include <map>
#include <nanoflann.hpp>
#include <numeric>
#include <tuple>

#include "catalog/sky_file.h"
#include "catalog/sky_format.h"

namespace ng::catalog {
namespace {

Result<PackedSkyStar> pack(const SkyEntry& s) {
  if (!(std::fabs(s.dec_rad) <= kPi / 2) || !(std::fabs(s.ra_rad) <= 4 * kPi))
    return Error(Code::kInvalidInput, fmt::format("a star at RA {} deg, Dec {} deg is nowhere on the sky",
                                                  rad_to_deg(s.ra_rad), rad_to_deg(s.dec_rad)));
  if (!(std::fabs(s.magnitude) < 32) || !(std::fabs(s.colour.value_or(0)) < 32))
    return Error(Code::kInvalidInput,
                 fmt::format("a star of magnitude {} and colour {} is no star", s.magnitude, s.colour.value_or(0)));
  const double pm_ra = s.pm_ra_rad_year / kMilliarcsec, pm_dec = s.pm_dec_rad_year / kMilliarcsec;
  if (!(std::fabs(pm_ra) < 32767) || !(std::fabs(pm_dec) < 32767))
    return Error(Code::kInvalidInput,
                 fmt::format("a proper motion of {} and {} milliarcsec a year is no star's", pm_ra, pm_dec));
  const auto unsigned16 = [](double v) { return static_cast<std::uint16_t>(std::clamp(std::ceil(v), 0.0, 65535.0)); };
  const double turns = s.ra_rad / (2 * kPi);
  return PackedSkyStar{static_cast<std::uint32_t>(std::llround((turns - std::floor(turns)) * kSkyTurn)),
                       static_cast<std::int32_t>(std::lround(s.dec_rad / (2 * kPi) * kSkyTurn)),
                       static_cast<std::int16_t>(std::lround(pm_ra)),
                       static_cast<std::int16_t>(std::lround(pm_dec)),
                       static_cast<std::int16_t>(std::lround(s.magnitude * 1000)),
                       s.colour ? static_cast<std::int16_t>(std::lround(*s.colour * 1000)) : kSkyNoColour,
                       unsigned16(s.position_error_rad / kMilliarcsec),
                       unsigned16(s.motion_error_rad_year / kMilliarcsec * 100)};
}

auto brightness_key(const PackedSkyStar& s) {
  return std::tuple(s.millimag, s.ra, s.dec);
}

// Stars sorted into levels and cells.
struct Levels {
  std::vector<PackedSkyStar> stars;
  std::vector<SkyLevel> levels;
  std::vector<SkyCell> cells;
};

class LevelBuilder {
 public:
  explicit LevelBuilder(std::vector<PackedSkyStar> brightest_first)
      : stars_(std::move(brightest_first)), deepest_cell_(stars_.size()), left_(stars_.size()) {
    for (std::size_t i = 0; i < stars_.size(); ++i)
      deepest_cell_[i] = sky_cell(kDeepestOrder, packed_direction(stars_[i]));
    std::iota(left_.begin(), left_.end(), 0u);
    out_.stars.reserve(stars_.size());
  }

  Levels build() {
    for (int level = 0; !left_.empty(); ++level) {
      const int order = std::min(kFirstOrder + level / 2, kDeepestOrder - 1);
      const bool last = kFirstOrder + level / 2 > kDeepestOrder - 1;
      take(order, last ? ~0u : static_cast<std::uint32_t>(kLevelShare * (1 + level % 2)));
    }
    return std::move(out_);
  }

 private:
  // Brings every cell of the order to `share` stars, those of earlier levels counted.
  void take(int order, std::uint32_t share) {
    const int shift = 2 * (kDeepestOrder - order);
    std::map<std::uint32_t, std::uint32_t> sparse;
    std::vector<std::uint32_t> dense;
    // Cells of shallow orders are few: an array counts them faster.
    if (order <= 9) dense.assign(std::size_t{12} << (2 * order), 0);
    const auto count = [&](std::uint32_t cell) -> std::uint32_t& { return dense.empty() ? sparse[cell] : dense[cell]; };
    for (const std::uint32_t i : taken_) ++count(deepest_cell_[i] >> shift);
    std::vector<std::uint32_t> chosen, rest;
    for (const std::uint32_t i : left_) {
      std::uint32_t& n = count(deepest_cell_[i] >> shift);
      (n < share ? chosen : rest).push_back(i);
      if (n < share) ++n;
    }
    left_ = std::move(rest);
    taken_.insert(taken_.end(), chosen.begin(), chosen.end());
    store(order, shift, std::move(chosen));
  }

  void store(int order, int shift, std::vector<std::uint32_t> chosen) {
    std::sort(chosen.begin(), chosen.end(), [&](std::uint32_t a, std::uint32_t b) {
      return std::pair(deepest_cell_[a], a) < std::pair(deepest_cell_[b], b);
    });
    SkyLevel level{static_cast<std::uint32_t>(order), static_cast<std::uint32_t>(out_.cells.size()), 0,
                   static_cast<std::uint32_t>(chosen.size())};
    for (const std::uint32_t i : chosen) {
      const std::uint32_t cell = deepest_cell_[i] >> shift;
      if (level.cells == 0 || out_.cells.back().cell != cell) {
        out_.cells.push_back({cell, static_cast<std::uint32_t>(out_.stars.size())});
        ++level.cells;
      }
      out_.stars.push_back(stars_[i]);
    }
    out_.cells.push_back({~0u, static_cast<std::uint32_t>(out_.stars.size())});
    out_.levels.push_back(level);
  }

  std::vector<PackedSkyStar> stars_;  // brightest first
  std::vector<std::uint32_t> deepest_cell_;
  std::vector<std::uint32_t> left_, taken_;  // indices into stars_
  Levels out_;
};

// The first stars of the file as points in space.
struct Cloud {
  std::span<const math::Vec3> points;
  [[nodiscard]] std::size_t kdtree_get_point_count() const { return points.size(); }
  [[nodiscard]] double kdtree_get_pt(std::size_t i, std::size_t axis) const { return points[i][axis]; }
  template <typename Box>
  bool kdtree_get_bbox(Box& /*box*/) const {
    return false;
  }
};
using Tree = nanoflann::KDTreeSingleIndexAdaptor<nanoflann::L2_Simple_Adaptor<double, Cloud>, Cloud, 3, std::uint32_t>;

using Four = std::array<std::uint32_t, 4>;

// Fours of the star with triples of its nearest neighbours among the first `count` stars.
void add_fours(std::span<const math::Vec3> points, int neighbours, std::vector<Four>& fours) {
  if (points.size() < 4) return;
  const Cloud cloud{points};
  Tree tree(3, cloud, nanoflann::KDTreeSingleIndexAdaptorParams(10));
  tree.buildIndex();
  const auto k = std::min(points.size(), static_cast<std::size_t>(neighbours) + 1);
  std::vector<std::uint32_t> near(k);
  std::vector<double> squared(k);
  for (std::uint32_t i = 0; i < points.size(); ++i) {
    tree.knnSearch(points[i].data(), k, near.data(), squared.data());
    std::vector<std::uint32_t> others;
    for (const std::uint32_t j : near)
      if (j != i) others.push_back(j);
    const std::size_t n = others.size();
    for (std::size_t a = 0; a < n; ++a)
      for (std::size_t b = a + 1; b < n; ++b)
        for (std::size_t c = b + 1; c < n; ++c) {
          Four four{i, others[a], others[b], others[c]};
          std::sort(four.begin(), four.end());
          fours.push_back(four);
        }
  }
}

// A four in the tangent plane at its middle. Nothing for one wider than 60 degrees or with two of its stars so close
// together that a camera may see one.
std::optional<Pattern> pattern_of(const Four& four, std::span<const math::Vec3> points) {
  math::Vec3 middle{};
  for (const std::uint32_t i : four)
    for (std::size_t k = 0; k < 3; ++k) middle[k] += points[i][k];
  middle = math::unit(middle);
  const math::Vec3 pole = std::fabs(middle[2]) < 0.9 ? math::Vec3{0, 0, 1} : math::Vec3{1, 0, 0};
  const math::Vec3 east = math::unit(math::cross(pole, middle)), north = math::cross(middle, east);
  std::array<math::Point, 4> plane{};
  for (std::size_t i = 0; i < 4; ++i) {
    const double along = math::dot(points[four[i]], middle);
    if (along < 0.85) return std::nullopt;
    plane[i] = {math::dot(points[four[i]], east) / along, math::dot(points[four[i]], north) / along};
  }
  const auto coded = code_of(plane, four);
  if (!coded) return std::nullopt;
  for (std::size_t i = 0; i < 4; ++i)
    for (std::size_t j = i + 1; j < 4; ++j)
      if (std::hypot(plane[i].x - plane[j].x, plane[i].y - plane[j].y) < 0.03 * coded->longest) return std::nullopt;
  return Pattern{packed_code(coded->code), coded->star};
}

Result<std::vector<Pattern>> make_patterns(const Levels& sky, const SkyEncodeOptions& options, const Context& ctx) {
  std::vector<math::Vec3> points;
  std::uint32_t first = 0;
  std::vector<Four> fours;
  for (const SkyLevel& level : sky.levels) {
    if (ctx.cancelled()) return Error(Code::kCancelled, "cancelled");
    if (first + level.stars > options.pattern_stars) break;
    for (std::uint32_t i = first; i < first + level.stars; ++i) points.push_back(packed_direction(sky.stars[i]));
    first += level.stars;
    add_fours(points, options.neighbours, fours);
    std::sort(fours.begin(), fours.end());
    fours.erase(std::unique(fours.begin(), fours.end()), fours.end());
  }
  std::vector<Pattern> patterns;
  patterns.reserve(fours.size());
  for (const Four& four : fours)
    if (const auto p = pattern_of(four, points)) patterns.push_back(*p);
  sort_into_tree(patterns);
  return patterns;
}

// The middle of the half-magnitude with the most stars: beyond it the catalogue ceases to be complete.
double reach_of(std::span<const PackedSkyStar> stars) {
  std::map<int, int> counts;
  for (const PackedSkyStar& s : stars) ++counts[static_cast<int>(std::floor(s.millimag / 500.0))];
  const auto top =
      std::max_element(counts.begin(), counts.end(), [](const auto& a, const auto& b) { return a.second < b.second; });
  return (top->first + 0.5) * 0.5;
}

// Area of the cells that hold stars, at the finest order at which they hold five or more on the average.
double covered_deg2(std::span<const PackedSkyStar> stars) {
  std::vector<std::uint32_t> cells;
  for (const PackedSkyStar& s : stars) cells.push_back(sky_cell(kDeepestOrder, packed_direction(s)));
  std::sort(cells.begin(), cells.end());
  const double whole = 4 * kPi * (180 / kPi) * (180 / kPi);
  for (int order = kDeepestOrder;; --order) {
    cells.erase(std::unique(cells.begin(), cells.end()), cells.end());
    if (order == 0 || stars.size() >= 5 * cells.size())
      return whole * static_cast<double>(cells.size()) / static_cast<double>(std::int64_t{12} << (2 * order));
    for (std::uint32_t& cell : cells) cell >>= 2;
  }
}

template <typename T>
std::byte* put(std::byte* at, std::span<const T> values) {
  if (!values.empty()) std::memcpy(at, values.data(), values.size_bytes());
  return at + values.size_bytes();
}

}  // namespace

Result<std::vector<std::byte>> encode_sky_file(std::span<const SkyEntry> entries, const SkyEncodeOptions& options,
                                               const Context& ctx) {
  if (entries.empty()) return Error(Code::kTooFew, "the catalogue holds no star");
  if (options.band.size() > 7)
    return Error(Code::kInvalidInput, fmt::format("'{}' is no name of a band: 7 characters at most", options.band));
  std::vector<PackedSkyStar> packed;
  packed.reserve(entries.size());
  for (const SkyEntry& entry : entries) {
    NG_TRY(const PackedSkyStar p, pack(entry));
    packed.push_back(p);
  }
  std::sort(packed.begin(), packed.end(),
            [](const PackedSkyStar& a, const PackedSkyStar& b) { return brightness_key(a) < brightness_key(b); });
  SkyHead head{};
  head.reach_mag = reach_of(packed);
  head.covered_deg2 = covered_deg2(packed);
  const Levels sky = LevelBuilder(std::move(packed)).build();
  NG_TRY(const std::vector<Pattern> patterns, make_patterns(sky, options, ctx));

  std::memcpy(head.magic, kSkyMagic, sizeof kSkyMagic);
  std::memcpy(head.band, options.band.data(), options.band.size());
  head.epoch_year = options.epoch_year;
  head.levels = static_cast<std::uint32_t>(sky.levels.size());
  head.cells = static_cast<std::uint32_t>(sky.cells.size());
  head.stars = static_cast<std::uint32_t>(sky.stars.size());
  head.patterns = static_cast<std::uint32_t>(patterns.size());
  const std::span<const SkyLevel> levels(sky.levels);
  const std::span<const SkyCell> cells(sky.cells);
  const std::span<const PackedSkyStar> stars(sky.stars);
  const std::span<const Pattern> tree(patterns);
  std::vector<std::byte> bytes(sizeof head + levels.size_bytes() + cells.size_bytes() + stars.size_bytes() +
                               tree.size_bytes());
  std::byte* at = put(bytes.data(), std::span<const SkyHead>(&head, 1));
  put(put(put(put(at, levels), cells), stars), tree);
  return bytes;
}

}  // namespace ng::catalog
