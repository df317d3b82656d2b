#include "astrometry/frame_map.h"

#include <Eigen/LU>
#include <cmath>
#include <vector>

#include "astrometry/plane_fit.h"

namespace ng::astrometry {
namespace {

constexpr int kSamples = 17;  // along each side

// Columns: directions of xi (east), eta (north) and the reference itself.
Eigen::Matrix3d tangent_basis(const Wcs& wcs) {
  const double ca = std::cos(wcs.ra_rad), sa = std::sin(wcs.ra_rad), cd = std::cos(wcs.dec_rad),
               sd = std::sin(wcs.dec_rad);
  Eigen::Matrix3d m;
  m << -sa, -sd * ca, cd * ca, ca, -sd * sa, cd * sa, 0, cd, sd;
  return m;
}

// Pixels, homogeneous, to (xi, eta, 1).
Eigen::Matrix3d plane_of_pixels(const Wcs& wcs) {
  Eigen::Matrix3d cd = Eigen::Matrix3d::Identity(), shift = Eigen::Matrix3d::Identity();
  cd.topLeftCorner<2, 2>() << wcs.cd_rad[0], wcs.cd_rad[1], wcs.cd_rad[2], wcs.cd_rad[3];
  shift(0, 2) = -wcs.reference_x;
  shift(1, 2) = -wcs.reference_y;
  return cd * shift;
}

math::Homography linear_map(const Wcs& from, const Wcs& to) {
  Eigen::Matrix3d m =
      plane_of_pixels(to).inverse() * tangent_basis(to).transpose() * tangent_basis(from) * plane_of_pixels(from);
  m /= m(2, 2);
  return math::Homography(std::array{m(0, 0), m(0, 1), m(0, 2), m(1, 0), m(1, 1), m(1, 2), m(2, 0), m(2, 1)});
}

struct Pair {
  math::Point here, there;
};

bool holds(FrameSize size, math::Point p) {
  return p.x >= -0.5 && p.y >= -0.5 && p.x <= size.width - 0.5 && p.y <= size.height - 0.5;
}

double overlap_share(const Wcs& from, FrameSize from_size, const Wcs& to, FrameSize to_size) {
  constexpr int kCells = 32;
  int inside = 0;
  for (int j = 0; j < kCells; ++j)
    for (int i = 0; i < kCells; ++i) {
      const auto there =
          carry(from, to, {-0.5 + from_size.width * (i + 0.5) / kCells, -0.5 + from_size.height * (j + 0.5) / kCells});
      if (there && holds(to_size, *there)) ++inside;
    }
  return static_cast<double>(inside) / (kCells * kCells);
}

// An affine map behind the homography takes up what distortion adds at first order.
math::Homography bettered(const math::Homography& map, const std::vector<Pair>& pairs) {
  math::Point middle;
  double span = 1;
  std::vector<PlanePair> fit;
  for (const Pair& p : pairs) {
    const math::Point q = map.apply(p.here);
    middle.x += q.x / static_cast<double>(pairs.size());
    middle.y += q.y / static_cast<double>(pairs.size());
  }
  for (const Pair& p : pairs) {
    const math::Point q = map.apply(p.here);
    fit.push_back({q.x - middle.x, q.y - middle.y, p.there.x - q.x, p.there.y - q.y, 1});
    span = std::max({span, std::fabs(fit.back().u), std::fabs(fit.back().v)});
  }
  const PlaneFit f = fit_plane(fit, 1, span);
  const auto x = [&](std::size_t k) { return f.x.coefficients[k]; };
  const auto y = [&](std::size_t k) { return f.y.coefficients[k]; };
  const math::Affine more{1 + x(1), x(2),     x(0) - x(1) * middle.x - x(2) * middle.y,
                          y(1),     1 + y(2), y(0) - y(1) * middle.x - y(2) * middle.y};
  return math::Homography(more).after(map);
}

}  // namespace

std::optional<math::Point> carry(const Wcs& from, const Wcs& to, math::Point pixel) {
  return to.pixel_of(from.sky_of(pixel));
}

Result<FrameMap> frame_map(const Wcs& from, FrameSize from_size, const Wcs& to, FrameSize to_size) {
  std::vector<Pair> all, shared;
  for (int j = 0; j < kSamples; ++j)
    for (int i = 0; i < kSamples; ++i) {
      const math::Point here{-0.5 + from_size.width * i / (kSamples - 1.0),
                             -0.5 + from_size.height * j / (kSamples - 1.0)};
      const auto there = carry(from, to, here);
      if (!there) return Error(Code::kNoMatch, "the frames look too far apart: no plane holds both");
      all.push_back({here, *there});
      if (holds(to_size, *there)) shared.push_back(all.back());
    }
  FrameMap map;
  map.overlap_share = overlap_share(from, from_size, to, to_size);
  const std::vector<Pair>& used = shared.size() >= 4 ? shared : all;
  map.homography = linear_map(from, to);
  if (from.distorted() || to.distorted()) map.homography = bettered(map.homography, used);
  for (const Pair& p : used) {
    const math::Point q = map.homography.apply(p.here);
    map.worst_px = std::max(map.worst_px, std::hypot(q.x - p.there.x, q.y - p.there.y));
  }
  return map;
}

}  // namespace ng::astrometry
