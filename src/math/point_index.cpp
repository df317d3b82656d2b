#include "math/point_index.h"

#include <algorithm>
#include <limits>
#include <nanoflann.hpp>

namespace ng::math {
namespace {

struct Cloud {
  std::vector<Point> points;
  [[nodiscard]] std::size_t kdtree_get_point_count() const { return points.size(); }
  [[nodiscard]] double kdtree_get_pt(std::size_t i, std::size_t dimension) const {
    return dimension == 0 ? points[i].x : points[i].y;
  }
  template <typename Box>
  bool kdtree_get_bbox(Box& /*box*/) const {
    return false;
  }
};
using Index = nanoflann::KDTreeSingleIndexAdaptor<nanoflann::L2_Simple_Adaptor<double, Cloud>, Cloud, 2, std::size_t>;

}  // namespace

struct PointIndex::Tree {
  explicit Tree(std::span<const Point> points)
      : cloud{{points.begin(), points.end()}}, index(2, cloud, nanoflann::KDTreeSingleIndexAdaptorParams(8)) {
    if (!cloud.points.empty()) index.buildIndex();
  }
  Cloud cloud;
  Index index;
};

PointIndex::PointIndex(std::span<const Point> points) : tree_(std::make_unique<Tree>(points)) {}
PointIndex::PointIndex(PointIndex&&) noexcept = default;
PointIndex& PointIndex::operator=(PointIndex&&) noexcept = default;
PointIndex::~PointIndex() = default;

std::pair<int, double> PointIndex::nearest(Point p) const {
  if (tree_->cloud.points.empty()) return {-1, std::numeric_limits<double>::infinity()};
  const double query[2] = {p.x, p.y};
  std::size_t index = 0;
  double squared = 0;
  tree_->index.knnSearch(query, 1, &index, &squared);
  return {static_cast<int>(index), squared};
}

std::vector<int> PointIndex::nearest(Point p, int k) const {
  const auto count = std::min(static_cast<std::size_t>(k), tree_->cloud.points.size());
  if (count == 0) return {};
  const double query[2] = {p.x, p.y};
  std::vector<std::size_t> indices(count);
  std::vector<double> squared(count);
  const auto found = tree_->index.knnSearch(query, count, indices.data(), squared.data());
  return {indices.begin(), indices.begin() + static_cast<std::ptrdiff_t>(found)};
}

std::vector<int> PointIndex::within(Point p, double radius) const {
  if (tree_->cloud.points.empty()) return {};
  const double query[2] = {p.x, p.y};
  std::vector<std::pair<std::size_t, double>> hits;
  tree_->index.radiusSearch(query, radius * radius, hits, nanoflann::SearchParams());
  std::vector<int> indices;
  indices.reserve(hits.size());
  for (const auto& hit : hits) indices.push_back(static_cast<int>(hit.first));
  std::sort(indices.begin(), indices.end());
  return indices;
}

}  // namespace ng::math
