// reduce/stack/drops_slow.h - the drizzle of one frame by its definition: every drop is cut by every pixel near it, as
// polygons (math/quad_overlap_slow.h). For tests only.
#pragma once

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/quad_overlap_slow.h"
#include "reduce/stack/drops.h"

namespace ng::reduce::slow {

// Area / (sum of min(a / W, 1 / w)) over the output pixels that a drop shares.
inline double balance(const std::vector<math::Point>& drop, const PlainWeights& plain, int plane, double weight) {
  const View<float>& w = plain.sums[static_cast<std::size_t>(plane)];
  double area = 0, counts = 0;
  for (int y = 0; y < w.height; ++y) {
    for (int x = 0; x < w.width; ++x) {
      if (!(w(x, y) > 0)) continue;
      const double a = math::slow::pixel_overlap(drop, plain.x0 + x, plain.y0 + y);
      area += a;
      counts += std::min(a / static_cast<double>(w(x, y)), 1 / weight);
    }
  }
  return counts > 0 ? area / counts : 1;
}

// Sums of one output pixel of one plane.
inline DropSum sum_at(const DropFrame& frame, const DropRows& rows, int plane, int ox, int oy,
                      const PlainWeights* plain = nullptr) {
  DropSum sum;
  for (int y = rows.y0; y < rows.y0 + rows.value.height(); ++y) {
    for (int x = 0; x < frame.width; ++x) {
      if (frame.bayer && bayer_plane(*frame.bayer, x, y) != plane) continue;
      const int p = frame.bayer ? 0 : plane;
      const float u = rows.variance.plane(p)(x, y - rows.y0);
      if (u == 0) continue;
      std::vector<math::Point> drop;
      const double h = frame.pixfrac / 2;
      for (const math::Point corner : {math::Point{-h, -h}, {h, -h}, {h, h}, {-h, h}})
        drop.push_back(frame.to_output.apply({x + corner.x, y + corner.y}));
      const double a = math::slow::pixel_overlap(drop, ox, oy);
      const double frames = a / (frame.pixfrac * frame.pixfrac * plane_density(frame.bayer, plane));
      if (u < 0) {
        sum.rejected += static_cast<float>(frames);
        continue;
      }
      if (a == 0) continue;
      const double weight = frame.weight[static_cast<std::size_t>(plane)];
      const double aw = a * weight * (plain == nullptr ? 1 : balance(drop, *plain, plane, weight));
      sum.value += aw * static_cast<double>(rows.value.plane(p)(x, y - rows.y0));
      sum.weight += aw;
      sum.variance += static_cast<float>(aw * aw * static_cast<double>(u));
      sum.coverage += static_cast<float>(frames) * frame.coverage;
    }
  }
  return sum;
}

}  // namespace ng::reduce::slow
