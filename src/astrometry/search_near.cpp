#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>
#include <utility>

#include "astrometry/search.h"

namespace ng::astrometry {
namespace {

// Stars taken from the frame, and from the catalogue for each of them on as much sky: clouds and false stars among the
// brightest make the frame poorer in true ones, or the catalogue's fainter ones needed.
struct Step {
  std::size_t brightest;
  double density;
};
constexpr std::array<Step, 2> kSteps{{{12, 1.2}, {20, 1.8}}};
constexpr double kShortest = 0.08;       // of the frame's diagonal: the longest side of a triangle at least
constexpr std::size_t kMostStars = 700;  // of the catalogue around the hint
constexpr int kNeighbours = 10;          // of a catalogue star, for its triangles
constexpr double kPairSigmaPx = 0.5;
constexpr double kSpareStars = 1.5;  // around the hint, over those weighed in each frame: the sky is not even
constexpr double kLowest = 0.97, kHighest = 1.03;  // of the limits of scale, for a triangle: distortion stretches it

// Nothing here is so small or large that std::hypot's care would matter, and it is called for every pair.
double apart(math::Point a, math::Point b) {
  const double x = a.x - b.x, y = a.y - b.y;
  return std::sqrt(x * x + y * y);
}

// Corner C of a triangle in the frame where A is 0 and B is 1, A and B farthest apart, A the end nearer to C.
struct Triangle {
  std::array<int, 3> star{};  // A, B, C
  math::Point code;           // y as seen with x from A to B
  double longest = 0;
};

std::optional<Triangle> triangle_of(std::array<int, 3> names, std::array<math::Point, 3> p) {
  std::size_t inner = 0;
  double longest = 0;
  for (std::size_t k = 0; k < 3; ++k) {
    const double d = apart(p[(k + 1) % 3], p[(k + 2) % 3]);
    if (d > longest) {
      longest = d;
      inner = k;
    }
  }
  std::size_t a = (inner + 1) % 3, b = (inner + 2) % 3;
  if (apart(p[b], p[inner]) < apart(p[a], p[inner])) std::swap(a, b);
  const double near = apart(p[a], p[inner]), far = apart(p[b], p[inner]);
  // Two corners in one place, or two sides that cannot be told apart, name nothing.
  if (!(near > 0.03 * longest) || far > 0.985 * longest || near > 0.985 * far) return std::nullopt;
  const double ux = (p[b].x - p[a].x) / (longest * longest), uy = (p[b].y - p[a].y) / (longest * longest);
  const double dx = p[inner].x - p[a].x, dy = p[inner].y - p[a].y;
  return Triangle{{names[a], names[b], names[inner]}, {dx * ux + dy * uy, dy * ux - dx * uy}, longest};
}

// Triangles by size: a frame's triangle is compared with those alone that the limits of scale let be its own.
class TriangleShelf {
 public:
  explicit TriangleShelf(const std::vector<Triangle>& triangles) {
    std::map<int, std::vector<int>> by_size;
    for (std::size_t i = 0; i < triangles.size(); ++i)
      by_size[size_class(triangles[i].longest)].push_back(static_cast<int>(i));
    for (auto& [size, members] : by_size) {
      std::vector<math::Point> codes;
      for (const int i : members) codes.push_back(triangles[static_cast<std::size_t>(i)].code);
      classes_.push_back({size, math::PointIndex(codes), std::move(members)});
    }
  }

  template <typename Visit>
  bool any(math::Point code, double tolerance, double shortest, double longest, const Visit& visit) const {
    for (const Class& c : classes_) {
      if (c.size < size_class(shortest) || c.size > size_class(longest)) continue;
      for (const int i : c.index.within(code, tolerance))
        if (visit(c.members[static_cast<std::size_t>(i)])) return true;
    }
    return false;
  }

 private:
  struct Class {
    int size = 0;
    math::PointIndex index;
    std::vector<int> members;
  };
  static int size_class(double longest) { return static_cast<int>(std::floor(std::log(longest) / 0.12)); }
  std::vector<Class> classes_;
};

// How many pairs of catalogue stars lie how far apart: cells of equal width up to the longest that fits into the frame.
class SeparationCounts {
 public:
  explicit SeparationCounts(double longest) : per_unit_(kCells / longest), upto_(kCells + 2) {}
  void add(double separation) { ++upto_[static_cast<std::size_t>(separation * per_unit_) + 1]; }
  void sum_up() { std::partial_sum(upto_.begin(), upto_.end(), upto_.begin()); }
  // Pairs from low to high, those of the two outer cells all counted: rather too many than too few.
  [[nodiscard]] double between(double low, double high) const {
    const double last = static_cast<double>(kCells);
    const auto first_cell = static_cast<std::size_t>(std::min(last, low * per_unit_));
    const auto last_cell = static_cast<std::size_t>(std::min(last, high * per_unit_));
    return static_cast<double>(upto_[last_cell + 1] - upto_[first_cell]);
  }

 private:
  static constexpr std::size_t kCells = 4096;
  double per_unit_;
  std::vector<std::int64_t> upto_;  // [k + 1]: in cells 0 to k
};

// The catalogue's stars around the hint, on the plane that touches the sky there, and their triangles.
struct NearSky {
  std::vector<catalog::SkyStar> stars;
  std::vector<math::Point> plane;
  std::vector<Triangle> triangles;
  SeparationCounts separations;  // of all pairs that fit into the frame
};

std::vector<math::Point> on_plane(std::span<const catalog::SkyStar> stars, const math::Vec3& centre) {
  const math::Vec3 pole = std::fabs(centre[2]) < 0.9 ? math::Vec3{0, 0, 1} : math::Vec3{1, 0, 0};
  const math::Vec3 east = math::unit(math::cross(pole, centre)), north = math::cross(centre, east);
  std::vector<math::Point> plane;
  for (const catalog::SkyStar& s : stars) {
    const double along = std::max(0.1, math::dot(s.direction, centre));
    plane.push_back({math::dot(s.direction, east) / along, math::dot(s.direction, north) / along});
  }
  return plane;
}

NearSky look_at(const catalog::SkyFile& sky, double year, const SearchLimits& limits, const Field& field,
                double frame_stars) {
  const double diagonal = field.diagonal_px() * limits.high_scale_rad;
  NearSky near{{}, {}, {}, SeparationCounts(diagonal)};
  const double reach = std::min(1.2, limits.radius_rad + diagonal / 2);
  // About as many stars for each frame's worth of sky as are taken from the frame.
  const double area = static_cast<double>(field.width) * field.height * limits.low_scale_rad * limits.high_scale_rad;
  const double wanted = frame_stars * 2 * kPi * (1 - std::cos(reach)) / area;
  near.stars = sky.brightest(limits.centre, reach, std::min(kMostStars, static_cast<std::size_t>(wanted) + 10), year);
  near.plane = on_plane(near.stars, limits.centre);

  const math::PointIndex index(near.plane);
  const double shortest = kShortest * field.diagonal_px() * limits.low_scale_rad;
  const auto at = [&](int i) { return near.plane[static_cast<std::size_t>(i)]; };
  const int n = static_cast<int>(near.plane.size());
  std::vector<std::array<int, 3>> corners;
  for (int i = 0; i < n; ++i) {
    for (int j = i + 1; j < n; ++j)
      if (const double d = apart(at(i), at(j)); d <= diagonal) near.separations.add(d);
    auto around = index.nearest(at(i), kNeighbours + 1);
    std::erase(around, i);
    for (std::size_t a = 0; a < around.size(); ++a)
      for (std::size_t b = a + 1; b < around.size(); ++b) {
        corners.push_back({i, around[a], around[b]});
        std::sort(corners.back().begin(), corners.back().end());
      }
  }
  near.separations.sum_up();
  std::sort(corners.begin(), corners.end());
  corners.erase(std::unique(corners.begin(), corners.end()), corners.end());
  for (const std::array<int, 3>& names : corners) {
    const auto t = triangle_of(names, {at(names[0]), at(names[1]), at(names[2])});
    if (t && t->longest >= shortest && t->longest <= diagonal) near.triangles.push_back(*t);
  }
  return near;
}

// All stars that any proposal within the limits may be weighed with, from the file but once.
std::vector<catalog::SkyStar> sky_around(const catalog::SkyFile& sky, double year, const SearchLimits& limits,
                                         const Field& field, int stars_weighed) {
  const double diagonal = field.diagonal_px() * limits.high_scale_rad;
  const double reach = limits.radius_rad + 0.6 * diagonal;
  const double frame = static_cast<double>(field.width) * field.height * limits.low_scale_rad * limits.low_scale_rad;
  const double frames = 2 * kPi * (1 - std::cos(reach)) / frame;
  return sky.brightest(limits.centre, reach, static_cast<std::size_t>(kSpareStars * stars_weighed * frames), year);
}

class Search {
 public:
  Search(const Field& field, double year, const SearchLimits& limits, double log_alarm, const OddsOptions& options,
         SearchOutcome& outcome)
      : field_(field), year_(year), limits_(limits), log_alarm_(log_alarm), test_(field, options), outcome_(outcome) {}

  // `around`: sky_around() of that catalogue.
  Result<void> run(const catalog::SkyFile& sky, std::size_t catalogue, const std::vector<catalog::SkyStar>& around,
                   const Step& step, const Context& ctx) {
    const std::size_t count = std::min(step.brightest, field_.stars.size());
    if (count < 3) return {};
    const NearSky near = look_at(sky, year_, limits_, field_, static_cast<double>(count) * step.density);
    if (near.stars.size() < 4) return {};
    const TriangleShelf shelf(near.triangles);
    test_.keep(around);
    const auto points = places(std::span(field_.stars).first(count));
    const double log_proposals = std::log(std::max(1.0, chances(near, points)));
    const int n = static_cast<int>(count);
    for (int c = 2; c < n; ++c) {
      if (ctx.cancelled()) return Error(Code::kCancelled, "cancelled");
      for (int b = 1; b < c; ++b)
        for (int a = 0; a < b; ++a) {
          const auto at = [&](int i) { return points[static_cast<std::size_t>(i)]; };
          const auto t = triangle_of({a, b, c}, {at(a), at(b), at(c)});
          if (!t || t->longest < kShortest * field_.diagonal_px()) continue;
          const double tolerance = std::min(0.03, 0.006 + 1.5 / t->longest);
          for (const int parity : {1, -1}) {
            const auto fits = [&](int i) {
              return propose(sky, near, near.triangles[static_cast<std::size_t>(i)], *t, parity, log_proposals);
            };
            if (!shelf.any({t->code.x, parity * t->code.y}, tolerance, kLowest * limits_.low_scale_rad * t->longest,
                           kHighest * limits_.high_scale_rad * t->longest, fits))
              continue;
            outcome_.found->catalogue = catalogue;
            return {};
          }
        }
    }
    return {};
  }

 private:
  // Pairs of frame stars that could be laid on pairs of catalogue stars within the limits of scale, either way round,
  // in either parity, in two rounds of stars weighed and in each of the steps.
  [[nodiscard]] double chances(const NearSky& near, const std::vector<math::Point>& points) const {
    double pairs = 0;
    for (std::size_t i = 0; i < points.size(); ++i)
      for (std::size_t j = i + 1; j < points.size(); ++j) {
        const double d = apart(points[i], points[j]);
        pairs += near.separations.between(d * limits_.low_scale_rad, d * limits_.high_scale_rad);
      }
    return pairs * 2 * 2 * 2 * static_cast<double>(kSteps.size());
  }

  bool propose(const catalog::SkyFile& sky, const NearSky& near, const Triangle& there, const Triangle& here,
               int parity, double log_proposals) {
    const double scale = there.longest / here.longest;
    if (scale < kLowest * limits_.low_scale_rad || scale > kHighest * limits_.high_scale_rad) return false;
    const auto seen = [&](std::size_t k) {
      const SeenStar& s = field_.stars[static_cast<std::size_t>(here.star[k])];
      return math::Point{s.x, s.y};
    };
    const auto star = [&](std::size_t k) -> const catalog::SkyStar& {
      return near.stars[static_cast<std::size_t>(there.star[k])];
    };
    const auto tracker = PoseTracker::from_pair(field_.middle(), parity, seen(0), star(0).direction, seen(1),
                                                star(1).direction, kPairSigmaPx + 0.001 * here.longest);
    if (!tracker) return false;
    const Pose& pose = tracker->pose();
    if (pose.scale_rad < limits_.low_scale_rad || pose.scale_rad > limits_.high_scale_rad) return false;
    // The middle is known to within a little of the frame by a pair of stars alone.
    const double margin = 0.05 * field_.diagonal_px() * pose.scale_rad;
    if (math::separation(pose.axes[2], limits_.centre) > limits_.radius_rad + margin) return false;

    ++outcome_.proposals;
    const math::Point middle{(seen(0).x + seen(1).x) / 2, (seen(0).y + seen(1).y) / 2};
    const std::array<std::uint32_t, 2> pattern{star(0).index, star(1).index};
    const std::array<int, 2> used{here.star[0], here.star[1]};
    const Verdict verdict = test_.weigh(sky, year_, *tracker, middle, pattern, used, log_proposals + log_alarm_);
    outcome_.best_margin = std::max(outcome_.best_margin, verdict.log_odds - log_proposals);
    if (verdict.log_odds < log_proposals + log_alarm_ || verdict.matched < 4) return false;
    outcome_.found = Found{0, verdict.pose, verdict.log_odds, log_proposals, verdict.matched};
    return true;
  }

  const Field& field_;
  double year_;
  SearchLimits limits_;
  double log_alarm_;
  OddsTest test_;
  SearchOutcome& outcome_;
};

}  // namespace

Result<SearchOutcome> search_near(const Field& field, std::span<const catalog::SkyFile* const> skies, double year,
                                  const SearchLimits& limits, double false_alarm, const OddsOptions& options,
                                  const Context& ctx) {
  SearchOutcome outcome;
  // Every catalogue is a chance of its own.
  const double log_alarm = std::log(static_cast<double>(skies.size()) / false_alarm);
  std::vector<std::vector<catalog::SkyStar>> around;
  for (const catalog::SkyFile* sky : skies) around.push_back(sky_around(*sky, year, limits, field, options.more_stars));
  for (const Step& step : kSteps)
    for (std::size_t k = 0; k < skies.size() && !outcome.found; ++k)
      NG_CHECK(Search(field, year, limits, log_alarm, options, outcome).run(*skies[k], k, around[k], step, ctx));
  return outcome;
}

}  // namespace ng::astrometry
