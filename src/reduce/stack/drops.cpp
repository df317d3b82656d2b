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

// A rectangle of the output.
struct Rectangle {
  int x0 = 0, y0 = 0, x1 = 0, y1 = 0;  // the last two are behind it
};
template <typename Window>
Rectangle rectangle_of(const Window& window) {
  return {window.x0, window.y0, window.x0 + window.sums[0].width, window.y0 + window.sums[0].height};
}

class Dropper {
 public:
  explicit Dropper(const DropFrame& frame) : frame_(frame), map_(frame.to_output) {
    for (std::size_t k = 0; k < 4; ++k) {
      const double dx = frame.pixfrac * (k == 0 || k == 3 ? -0.5 : 0.5);
      const double dy = frame.pixfrac * (k < 2 ? -0.5 : 0.5);
      corner_[k] = {map_.m[0] * dx + map_.m[1] * dy, map_.m[3] * dx + map_.m[4] * dy, map_.m[6] * dx + map_.m[7] * dy};
    }
    affine_ = frame.to_output.plane().is_affine();
    const math::Affine t = frame.to_output.linear_at({frame.width / 2.0, frame.height / 2.0});
    half_side_ = 0.5 * frame.pixfrac * std::sqrt(std::fabs(t.determinant()));
    for (int p = 0; p < 3; ++p)
      share_[static_cast<std::size_t>(p)] = 1 / (frame.pixfrac * frame.pixfrac * plane_density(frame.bayer, p));
  }

  void drop(int x, int y, std::size_t plane, float value, float variance, const DropWindow& window,
            const PlainWeights* plain) {
    if (window.sums[plane].empty() || !lay(x, y, rectangle_of(window))) return;
    double weight = weight_of(x, y, plane);
    if (plain != nullptr && variance > 0) weight *= balance(*plain, plane, weight);
    const auto share = static_cast<float>(share_[plane]);
    each(rectangle_of(window), [&](int ox, int oy, double a) {
      DropSum& sum = window.sums[plane](ox - window.x0, oy - window.y0);
      const float frames = static_cast<float>(a) * share;
      if (variance < 0) {
        sum.rejected += frames;
        return;
      }
      const double aw = a * weight;
      sum.value += aw * static_cast<double>(value);
      sum.weight += aw;
      sum.variance += static_cast<float>(aw * aw) * variance;
      sum.coverage += frames * frame_.coverage;
      if (!frame_.half) return;
      sum.half_value += aw * static_cast<double>(value);
      sum.half_weight += aw;
      sum.half_variance += static_cast<float>(aw * aw) * variance;
    });
  }

  // The drop as an upright square of the same area, which is much quicker to cut and does for a weight.
  void weigh(int x, int y, std::size_t plane, const PlainWeights& plain) const {
    const math::Point middle = middle_of(x, y);
    const Rectangle r = rectangle_of(plain);
    const double left = middle.x - half_side_, right = middle.x + half_side_;
    const double top = middle.y - half_side_, bottom = middle.y + half_side_;
    const int x_first = std::max(static_cast<int>(std::floor(left + 0.5)), r.x0);
    const int x_end = std::min(static_cast<int>(std::ceil(right + 0.5)), r.x1);
    const int y_first = std::max(static_cast<int>(std::floor(top + 0.5)), r.y0);
    const int y_end = std::min(static_cast<int>(std::ceil(bottom + 0.5)), r.y1);
    if (x_first >= x_end || y_first >= y_end) return;
    const double weight = weight_of(x, y, plane);
    for (int oy = y_first; oy < y_end; ++oy) {
      const double high = weight * (std::min(bottom, oy + 0.5) - std::max(top, oy - 0.5));
      float* row = plain.sums[plane].row(oy - plain.y0) - plain.x0;
      for (int ox = x_first; ox < x_end; ++ox)
        row[ox] += static_cast<float>(high * (std::min(right, ox + 0.5) - std::max(left, ox - 0.5)));
    }
  }

  // Columns of a frame row whose drops can reach a rectangle.
  [[nodiscard]] Columns columns(int y, double margin, const Rectangle& r) const {
    return columns_within(map_, y, frame_.width, r.x0 - 0.5 - margin, r.x1 - 0.5 + margin, r.y0 - 0.5 - margin,
                          r.y1 - 0.5 + margin);
  }

 private:
  // Cuts the drop of a pixel by the output pixels around it. False where none of those is in the rectangle.
  bool lay(int x, int y, const Rectangle& r) {
    const std::array<math::Point, 4> quad = frame_.to_output.bent() ? bent_quad(x, y) : flat_quad(x, y);
    around_ = math::window_of(quad);
    if (around_.y0 >= r.y1 || around_.y0 + around_.height <= r.y0 || around_.x0 >= r.x1 ||
        around_.x0 + around_.width <= r.x0)
      return false;
    areas_.resize(static_cast<std::size_t>(around_.width) * static_cast<std::size_t>(around_.height));
    math::quad_overlap(quad, around_, areas_);
    return true;
  }

  // Calls f(column, row, area) for the output pixels that the drop was cut by, of a rectangle.
  template <typename F>
  void each(const Rectangle& r, const F& f) const {
    const int x_first = std::max(around_.x0, r.x0), x_end = std::min(around_.x0 + around_.width, r.x1);
    const int y_first = std::max(around_.y0, r.y0), y_end = std::min(around_.y0 + around_.height, r.y1);
    for (int oy = y_first; oy < y_end; ++oy) {
      const double* area = areas_.data() + static_cast<std::ptrdiff_t>(oy - around_.y0) * around_.width - around_.x0;
      for (int ox = x_first; ox < x_end; ++ox) f(ox, oy, area[ox]);
    }
  }

  [[nodiscard]] double weight_of(int x, int y, std::size_t plane) const {
    double weight = frame_.weight[plane];
    if (frame_.feather.width_px > 0)
      weight *= static_cast<double>(feather_at(frame_.feather, {static_cast<double>(x), static_cast<double>(y)}));
    return weight;
  }

  // By how much more the drop of that weight has to weigh to count as it should.
  [[nodiscard]] double balance(const PlainWeights& plain, std::size_t plane, double weight) const {
    double area = 0, counts = 0;
    each(rectangle_of(plain), [&](int ox, int oy, double a) {
      const float got = plain.sums[plane](ox - plain.x0, oy - plain.y0);
      if (!(got > 0)) return;
      area += a;
      counts += std::min(a / static_cast<double>(got), 1 / weight);  // no pixel is more than its own
    });
    return counts > 0 ? area / counts : 1;
  }

  [[nodiscard]] math::Point middle_of(int x, int y) const {
    if (frame_.to_output.bent()) return frame_.to_output.apply({static_cast<double>(x), static_cast<double>(y)});
    const Mapper::Homogeneous h = map_.at(x, y);
    return affine_ ? math::Point{h.x, h.y} : math::Point{h.x / h.w, h.y / h.w};
  }
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
  Mapper map_;
  std::array<Mapper::Homogeneous, 4> corner_{};  // of a drop, from its centre
  std::array<double, 3> share_{};                // frames that a unit of area stands for
  bool affine_ = false;
  double half_side_ = 0;      // of a square as large as a drop in the middle
  math::PixelWindow around_;  // of the drop that was laid last
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

void add_drops(const DropFrame& frame, const DropRows& rows, int first, int count, const DropWindow& window,
               const PlainWeights* plain) {
  Dropper dropper(frame);
  const double margin = reach(frame, largest_bend(frame));
  for (int y = first; y < first + count; ++y) {
    const Columns columns = dropper.columns(y, margin, rectangle_of(window));
    for (int p = 0; p < rows.value.planes(); ++p) {
      const float* value = rows.value.plane(p).row(y - rows.y0);
      const float* variance = rows.variance.plane(p).row(y - rows.y0);
      for (int x = columns.first; x <= columns.last; ++x) {
        if (variance[x] == 0) continue;
        const int plane = frame.bayer ? bayer_plane(*frame.bayer, x, y) : p;
        dropper.drop(x, y, static_cast<std::size_t>(plane), value[x], variance[x], window, plain);
      }
    }
  }
}

void add_plain_weights(const DropFrame& frame, int planes, int first, int count, const PlainWeights& plain) {
  const Dropper dropper(frame);
  const double margin = reach(frame, largest_bend(frame));
  const int own = frame.bayer ? 1 : planes;
  for (int y = first; y < first + count; ++y) {
    const Columns columns = dropper.columns(y, margin, rectangle_of(plain));
    for (int p = 0; p < own; ++p) {
      for (int x = columns.first; x <= columns.last; ++x) {
        const int plane = frame.bayer ? bayer_plane(*frame.bayer, x, y) : p;
        dropper.weigh(x, y, static_cast<std::size_t>(plane), plain);
      }
    }
  }
}

int drop_height(const DropFrame& frame) {
  return static_cast<int>(std::ceil(2 * reach(frame, 0))) + 1;
}

}  // namespace ng::reduce
