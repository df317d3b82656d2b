#include "reduce/stack/drops.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "math/quad_overlap.h"

namespace ng::reduce {
namespace {

// The map of flat pixels with its projective terms laid open: numerators and denominator are linear in x and y.
struct Mapper {
  explicit Mapper(const math::PlaneMap& map) : m(map.plane().coefficients()) {}

  struct Homogeneous {
    double x, y, w;
  };
  [[nodiscard]] Homogeneous at(double x, double y) const {
    return {m[0] * x + m[1] * y + m[2], m[3] * x + m[4] * y + m[5], m[6] * x + m[7] * y + 1};
  }

  std::array<double, 8> m;
};

// Half the height that a drop can have on the output, with a little to spare, and the bend.
double reach(const DropFrame& frame, double bend) {
  const math::Affine t = frame.to_output.linear_at({frame.width / 2.0, frame.height / 2.0});
  return 0.5 * frame.pixfrac * 1.05 * std::max(std::fabs(t.a) + std::fabs(t.b), std::fabs(t.d) + std::fabs(t.e)) +
         0.01 + bend;
}

// How far a lens moves any pixel of the frame, on the output; the corners and sides are farthest.
double largest_bend(const DropFrame& frame) {
  if (!frame.to_output.bent()) return 0;
  constexpr int kSteps = 8;
  double most = 0;
  for (int j = 0; j <= kSteps; ++j) {
    for (int i = 0; i <= kSteps; ++i) {
      const math::Point p{(frame.width - 1.0) * i / kSteps, (frame.height - 1.0) * j / kSteps};
      const math::Point bent = frame.to_output.apply(p), flat = frame.to_output.plane().apply(p);
      most = std::max({most, std::fabs(bent.x - flat.x), std::fabs(bent.y - flat.y)});
    }
  }
  return 1.1 * most;  // between the places looked at
}

struct Columns {
  int first = 0, last = -1;
};

// Keeps the columns with slope x + rest >= 0.
void keep_where(double slope, double rest, double& low, double& high) {
  if (slope > 0) {
    low = std::max(low, -rest / slope);
  } else if (slope < 0) {
    high = std::min(high, -rest / slope);
  } else if (rest < 0) {
    high = -1;
  }
}

// Of a frame row, the columns whose centres fall into a rectangle of the output: the denominator multiplied out, every
// side is a linear condition.
Columns columns_within(const Mapper& map, int y, int width, double left, double right, double top, double bottom) {
  double low = 0, high = width - 1.0;
  const Mapper::Homogeneous h = map.at(0, y);
  keep_where(map.m[0] - left * map.m[6], h.x - left * h.w, low, high);
  keep_where(right * map.m[6] - map.m[0], right * h.w - h.x, low, high);
  keep_where(map.m[3] - top * map.m[6], h.y - top * h.w, low, high);
  keep_where(bottom * map.m[6] - map.m[3], bottom * h.w - h.y, low, high);
  if (!(low <= high)) return {};
  return {static_cast<int>(std::ceil(low)), static_cast<int>(std::floor(high))};
}

class Dropper {
 public:
  Dropper(const DropFrame& frame, const DropWindow& window) : frame_(frame), window_(window), map_(frame.to_output) {
    for (std::size_t k = 0; k < 4; ++k) {
      const double dx = frame.pixfrac * (k == 0 || k == 3 ? -0.5 : 0.5);
      const double dy = frame.pixfrac * (k < 2 ? -0.5 : 0.5);
      corner_[k] = {map_.m[0] * dx + map_.m[1] * dy, map_.m[3] * dx + map_.m[4] * dy, map_.m[6] * dx + map_.m[7] * dy};
    }
    affine_ = frame.to_output.plane().is_affine();
    for (int p = 0; p < 3; ++p)
      share_[static_cast<std::size_t>(p)] = 1 / (frame.pixfrac * frame.pixfrac * plane_density(frame.bayer, p));
  }

  void drop(int x, int y, std::size_t plane, float value, float variance) {
    const std::array<math::Point, 4> quad = frame_.to_output.bent() ? bent_quad(x, y) : flat_quad(x, y);
    const math::PixelWindow around = math::window_of(quad);
    const View<DropSum>& sums = window_.sums[plane];
    const int y_first = std::max(around.y0, window_.y0);
    const int y_last = std::min(around.y0 + around.height, window_.y0 + sums.height);
    const int x_first = std::max(around.x0, window_.x0);
    const int x_last = std::min(around.x0 + around.width, window_.x0 + sums.width);
    if (y_first >= y_last || x_first >= x_last) return;
    areas_.resize(static_cast<std::size_t>(around.width) * static_cast<std::size_t>(around.height));
    math::quad_overlap(quad, around, areas_);
    double weight = frame_.weight[plane];
    if (frame_.feather.width_px > 0)
      weight *= static_cast<double>(feather_at(frame_.feather, {static_cast<double>(x), static_cast<double>(y)}));
    const auto share = static_cast<float>(share_[plane]);
    for (int oy = y_first; oy < y_last; ++oy) {
      const double* area = areas_.data() + static_cast<std::ptrdiff_t>(oy - around.y0) * around.width - around.x0;
      DropSum* row = sums.row(oy - window_.y0) - window_.x0;
      for (int ox = x_first; ox < x_last; ++ox) {
        const double a = area[ox];
        DropSum& sum = row[ox];
        const float frames = static_cast<float>(a) * share;
        if (variance < 0) {
          sum.rejected += frames;
          continue;
        }
        const double aw = a * weight;
        sum.value += aw * static_cast<double>(value);
        sum.weight += aw;
        sum.variance += static_cast<float>(aw * aw) * variance;
        sum.coverage += frames * frame_.coverage;
        if (!frame_.half) continue;
        sum.half_value += aw * static_cast<double>(value);
        sum.half_weight += aw;
        sum.half_variance += static_cast<float>(aw * aw) * variance;
      }
    }
  }

  [[nodiscard]] Columns columns(int y, double margin) const {
    const View<DropSum>& sums = window_.sums[0];
    const double left = window_.x0 - 0.5 - margin, top = window_.y0 - 0.5 - margin;
    return columns_within(map_, y, frame_.width, left, left + sums.width + 2 * margin, top,
                          top + sums.height + 2 * margin);
  }

 private:
  [[nodiscard]] std::array<math::Point, 4> flat_quad(int x, int y) const {
    const Mapper::Homogeneous h = map_.at(x, y);
    std::array<math::Point, 4> quad;
    for (std::size_t k = 0; k < 4; ++k) {
      const Mapper::Homogeneous& c = corner_[k];
      quad[k] = {h.x + c.x, h.y + c.y};
      if (affine_) continue;
      const double w = 1 / (h.w + c.w);
      quad[k] = {quad[k].x * w, quad[k].y * w};
    }
    return quad;
  }
  // A lens is straight enough over one pixel: the drop follows the tangent map at its centre, to 1e-5 px.
  [[nodiscard]] std::array<math::Point, 4> bent_quad(int x, int y) const {
    const math::Affine t = frame_.to_output.linear_at({static_cast<double>(x), static_cast<double>(y)});
    std::array<math::Point, 4> quad;
    for (std::size_t k = 0; k < 4; ++k) {
      const double dx = frame_.pixfrac * (k == 0 || k == 3 ? -0.5 : 0.5);
      const double dy = frame_.pixfrac * (k < 2 ? -0.5 : 0.5);
      quad[k] = t.apply({x + dx, y + dy});
    }
    return quad;
  }

  const DropFrame& frame_;
  const DropWindow& window_;
  Mapper map_;
  std::array<Mapper::Homogeneous, 4> corner_{};  // of a drop, from its centre
  std::array<double, 3> share_{};                // frames that a unit of area stands for
  bool affine_ = false;
  std::vector<double> areas_;
};

}  // namespace

double plane_density(const std::optional<BayerPattern>& bayer, int plane) {
  if (!bayer) return 1;
  return plane == 1 ? 0.5 : 0.25;
}

FrameRows rows_reaching(const DropFrame& frame, int x0, int y0, int columns, int rows) {
  const math::Homography to_frame = frame.to_output.plane().inverse();
  const double margin = reach(frame, largest_bend(frame));
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (const double x : {x0 - 0.5 - margin, x0 + columns - 0.5 + margin}) {
    for (const double y : {y0 - 0.5 - margin, y0 + rows - 0.5 + margin}) {
      const double at = to_frame.apply({x, y}).y;
      low = std::min(low, at);
      high = std::max(high, at);
    }
  }
  const double first = std::max(0.0, std::ceil(low));
  const double last = std::min(frame.height - 1.0, std::floor(high));
  if (!(first <= last)) return {};
  return {static_cast<int>(first), static_cast<int>(last - first) + 1};
}

void add_drops(const DropFrame& frame, const DropRows& rows, int first, int count, const DropWindow& window) {
  Dropper dropper(frame, window);
  const double margin = reach(frame, largest_bend(frame));
  for (int y = first; y < first + count; ++y) {
    const Columns columns = dropper.columns(y, margin);
    for (int p = 0; p < rows.value.planes(); ++p) {
      const float* value = rows.value.plane(p).row(y - rows.y0);
      const float* variance = rows.variance.plane(p).row(y - rows.y0);
      for (int x = columns.first; x <= columns.last; ++x) {
        if (variance[x] == 0) continue;
        const int plane = frame.bayer ? bayer_plane(*frame.bayer, x, y) : p;
        dropper.drop(x, y, static_cast<std::size_t>(plane), value[x], variance[x]);
      }
    }
  }
}

}  // namespace ng::reduce
