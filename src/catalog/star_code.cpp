#include "catalog/star_code.h"

#include <cmath>
#include <utility>

namespace ng::catalog {
namespace {

CodedFour with_ends_swapped(CodedFour f) {
  for (double& c : f.code) c = -c;
  f.code[0] += 1;
  f.code[2] += 1;
  std::swap(f.star[0], f.star[1]);
  return f;
}
CodedFour with_inner_swapped(CodedFour f) {
  std::swap(f.code[0], f.code[2]);
  std::swap(f.code[1], f.code[3]);
  std::swap(f.star[2], f.star[3]);
  return f;
}

}  // namespace

std::optional<CodedFour> code_of(const std::array<math::Point, 4>& points, const std::array<std::uint32_t, 4>& names) {
  constexpr std::array<std::array<std::size_t, 4>, 6> kSplits{
      {{0, 1, 2, 3}, {0, 2, 1, 3}, {0, 3, 1, 2}, {1, 2, 0, 3}, {1, 3, 0, 2}, {2, 3, 0, 1}}};
  double longest = 0, second = 0;
  std::array<std::size_t, 4> best{};
  for (const auto& s : kSplits) {
    const double d = std::hypot(points[s[0]].x - points[s[1]].x, points[s[0]].y - points[s[1]].y);
    if (d > longest) {
      second = longest;
      longest = d;
      best = s;
    } else if (d > second) {
      second = d;
    }
  }
  if (!(longest > 0) || second > 0.98 * longest) return std::nullopt;

  const math::Point a = points[best[0]], b = points[best[1]];
  const double ux = (b.x - a.x) / (longest * longest), uy = (b.y - a.y) / (longest * longest);
  const auto place = [&](math::Point p) {
    const double dx = p.x - a.x, dy = p.y - a.y;
    return math::Point{dx * ux + dy * uy, dy * ux - dx * uy};
  };
  const math::Point c = place(points[best[2]]), d = place(points[best[3]]);
  CodedFour four{{c.x, c.y, d.x, d.y}, {names[best[0]], names[best[1]], names[best[2]], names[best[3]]}, longest};
  if (c.x + d.x > 1) four = with_ends_swapped(four);
  if (four.code[0] > four.code[2]) four = with_inner_swapped(four);
  return four;
}

StarCode mirrored(const StarCode& code) {
  return {code[0], -code[1], code[2], -code[3]};
}

std::vector<CodedFour> namings(const CodedFour& four, double tolerance) {
  std::vector<CodedFour> all{four};
  if (1 - four.code[0] - four.code[2] < 2 * tolerance) all.push_back(with_inner_swapped(with_ends_swapped(four)));
  if (four.code[2] - four.code[0] < 2 * tolerance)
    for (std::size_t i = 0, n = all.size(); i < n; ++i) all.push_back(with_inner_swapped(all[i]));
  return all;
}

}  // namespace ng::catalog
