#include "reduce/stack/blot.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "frame/background_map.h"
#include "math/lanczos.h"
#include "math/resample.h"
#include "math/row_places.h"
#include "reduce/stack/prepare.h"

namespace ng::reduce {
namespace {

// One row more on each side, whose hits reach in.
constexpr int kGrowth = 1;
// Added to the allowance under a mosaic, in pixels: the demosaiced master is a little wider than the truth of one
// colour. Without it a bright star of FWHM 2.6 px loses one pixel in some hundred (drizzle_test.cpp).
constexpr float kMosaicAllowance = 0.3f;

// The master in a frame's pixels. Under a mosaic each of the four sites of its cell is a grid of its own, twice as
// wide: no pixel is worked out for a colour that it does not have.
class Blotted {
 public:
  Blotted(const StackFrame& frame, int y0, int rows, const CentreRows& centre, int planes)
      : step_(frame.bayer ? 2 : 1), y0_(y0 / step_ * step_) {
    const FrameFacts& facts = frame.source->facts();
    const int width = (facts.width + step_ - 1) / step_;
    const int height = (y0 + rows - y0_ + step_ - 1) / step_;
    Image<float> squares(width, height);
    const math::LanczosPolynomials lanczos;
    for (int k = 0; k < (frame.bayer ? 4 : planes); ++k) {
      const int dx = frame.bayer ? k & 1 : 0, dy = frame.bayer ? k >> 1 : 0;
      const int p = frame.bayer ? bayer_plane(*frame.bayer, dx, dy) : k;
      math::ResampleOptions resample;
      resample.guard = static_cast<float>(3 * frame.planes[static_cast<std::size_t>(p)].noise);
      sites_.emplace_back(width, height);
      math::resample_rows({centre.mean(p), centre.missing(p), centre.first()},
                          frame.to_master.on_subgrid(step_, {double(dx), double(dy)}), y0_ / step_,
                          sites_.back().plane(), squares.plane(), resample, lanczos);
    }
  }

  // Row y of the frame's plane p; pixel x stands at x / step.
  struct Row {
    std::array<const float*, 2> sites;  // of even and odd columns
    int step;
    [[nodiscard]] float operator[](int x) const { return sites[static_cast<std::size_t>(x & 1)][x / step]; }
  };
  [[nodiscard]] Row row(int p, int y) const {
    const std::size_t first = step_ == 2 ? static_cast<std::size_t>(2 * (y & 1)) : static_cast<std::size_t>(p);
    const int at = (y - y0_) / step_;
    return {{sites_[first].plane().row(at), sites_[step_ == 2 ? first + 1 : first].plane().row(at)}, step_};
  }

 private:
  int step_ = 1, y0_ = 0;
  std::vector<Image<float>> sites_;
};

class Judge {
 public:
  Judge(const StackFrame& frame, int y0, int count, const CentreRows& centre, int planes,
        const math::CombineOptions& options, const CountBand& band)
      : frame_(frame),
        facts_(frame.source->facts()),
        centre_(centre),
        planes_(planes),
        options_(options),
        band_(band),
        y0_(y0),
        count_(count),
        top_(std::max(0, y0 - kGrowth)),
        rows_(std::min(facts_.height, y0 + count + kGrowth) - top_) {}

  Result<Judged> run(const Context& ctx) {
    StackFrame raw = frame_;
    raw.bayer.reset();
    const int value_planes = frame_.bayer ? 1 : planes_;
    NG_TRY(prepared_, prepare_rows(raw, top_, rows_, value_planes, ctx));
    const Blotted blotted(frame_, top_, rows_, centre_, planes_);
    for (Image<float>* image : {&value_, &variance_, &excess_})
      *image = Image<float>(facts_.width, rows_, value_planes);
    counted_ = Image<std::uint8_t>(facts_.width, rows_);
    for (int p = 0; p < value_planes; ++p)
      for (int y = 0; y < rows_; ++y) weigh_row(p, y, blotted.row(p, top_ + y));
    return sentence(value_planes);
  }

 private:
  // Values and variances of a row on the scale of the master, and by how many sigma each is off; 0 where nobody can
  // tell.
  void weigh_row(int p, int row, const Blotted::Row& blotted) {
    const int y = top_ + row;
    const float* pixels = prepared_.pixels.plane(p).row(y - prepared_.y0);
    const std::uint8_t* bad = prepared_.bad.plane().row(y - prepared_.y0);
    float* value = value_.plane(p).row(row);
    float* variance = variance_.plane(p).row(row);
    float* excess = excess_.plane(p).row(row);
    std::uint8_t* counted = counted_.plane().row(row);
    std::array<std::vector<float>, 2> bare;  // variance on bare sky, of the two colours of a mosaic row
    for (int k = 0; k < (frame_.bayer ? 2 : 1); ++k)
      bare[static_cast<std::size_t>(k)] = bare_variance(plane_of(p, k, y), y);
    const float allowance = options_.slope_allowance + (frame_.bayer ? kMosaicAllowance : 0);
    const float near2 = std::pow(options_.near_share * options_.kappa, 2.0f);
    const std::optional<math::RowPlaces> places =
        frame_.to_master.bent() ? std::optional<math::RowPlaces>(std::in_place, frame_.to_master, y, facts_.width)
                                : std::nullopt;
    for (int x = 0; x < facts_.width; ++x) {
      value[x] = variance[x] = excess[x] = 0;
      if (bad[x] != 0) continue;
      const int plane = plane_of(p, x, y);
      const PlaneScale& scale = frame_.planes[static_cast<std::size_t>(plane)];
      const math::Point at =
          places ? places->at(x) : frame_.to_master.apply({static_cast<double>(x), static_cast<double>(y)});
      const int mx = static_cast<int>(std::floor(at.x + 0.5));
      const int my = static_cast<int>(std::floor(at.y + 0.5)) - centre_.first();
      const View<const float> frames = centre_.frames(plane);
      if (mx < 0 || mx >= frames.width || my < 0 || my >= frames.height) continue;
      counted[x] = counts_here(at) ? 1 : 0;
      const auto factor = static_cast<float>(frame_.pixel_area / scale.scale);
      value[x] = pixels[x] * factor - static_cast<float>(scale.sky.at(at.x, at.y));
      const float on_sky = bare[frame_.bayer ? static_cast<std::size_t>(x & 1) : 0][static_cast<std::size_t>(x)];
      if (frames(mx, my) < 3) {
        variance[x] = frames(mx, my) > 0 ? on_sky : 0;
        continue;
      }
      const float c = blotted[x];
      if (std::isnan(c)) continue;
      const float signal = std::max(0.0f, c - centre_.sky(plane)(mx, my));
      const auto share = static_cast<float>(1 / (factor * scale.noise * scale.noise));
      variance[x] = on_sky * (1 + share * signal);
      const float off = value[x] - c;
      const float noise2 = variance[x] + centre_.variance(plane)(mx, my);
      if (off * off <= near2 * noise2) continue;  // most pixels by far: whatever the slope, they stay
      const float steep = allowance * steepest(centre_.slope(plane), at);
      excess[x] = std::fabs(off) / std::sqrt(noise2 + steep * steep);
    }
  }

  [[nodiscard]] std::vector<float> bare_variance(int plane, int y) const {
    const PlaneScale& scale = frame_.planes[static_cast<std::size_t>(plane)];
    const double factor = std::pow(frame_.pixel_area / scale.scale, 2);
    std::vector<float> row(static_cast<std::size_t>(facts_.width), static_cast<float>(scale.noise * scale.noise));
    if (scale.variance != nullptr && !scale.variance->empty())
      mesh_row_between(*scale.variance, scale.variance_box_px, y, 0, facts_.width, row.data());
    for (float& v : row) v *= static_cast<float>(factor);
    return row;
  }

  // Who is left out, in the rows that were asked for.
  Judged sentence(int value_planes) {
    Judged result;
    result.rows.y0 = y0_;
    result.rows.value = Image<float>(facts_.width, count_, value_planes);
    result.rows.variance = Image<float>(facts_.width, count_, value_planes);
    for (int p = 0; p < value_planes; ++p) {
      for (int y = y0_; y < y0_ + count_; ++y) {
        const float* excess = excess_.plane(p).row(y - top_);
        const std::uint8_t* counted = counted_.plane().row(y - top_);
        float* variance = result.rows.variance.plane(p).row(y - y0_);
        std::copy_n(value_.plane(p).row(y - top_), facts_.width, result.rows.value.plane(p).row(y - y0_));
        std::copy_n(variance_.plane(p).row(y - top_), facts_.width, variance);
        const float near = options_.near_share * options_.kappa;
        for (int x = 0; x < facts_.width; ++x) {
          if (variance[x] == 0) continue;
          const bool out =
              excess[x] > options_.kappa || (excess[x] > near && touches_hit(excess_.plane(p), x, y - top_));
          if (counted[x] != 0) {
            result.counts.values += 1;
            result.counts.rejected += out ? 1 : 0;
          }
          if (out) variance[x] = -1;
        }
      }
    }
    return result;
  }

  [[nodiscard]] bool touches_hit(View<const float> excess, int x, int y) const {
    for (int j = std::max(0, y - 1); j <= std::min(excess.height - 1, y + 1); ++j)
      for (int i = std::max(0, x - 1); i <= std::min(excess.width - 1, x + 1); ++i)
        if (excess(i, j) > options_.kappa) return true;
    return false;
  }

  // Among the four master pixels around a place.
  [[nodiscard]] float steepest(View<const float> slope, math::Point at) const {
    const int x = std::clamp(static_cast<int>(std::floor(at.x)), 0, slope.width - 2);
    const int y = std::clamp(static_cast<int>(std::floor(at.y)) - centre_.first(), 0, slope.height - 2);
    return std::max(std::max(slope(x, y), slope(x + 1, y)), std::max(slope(x, y + 1), slope(x + 1, y + 1)));
  }

  [[nodiscard]] bool counts_here(math::Point on_master) const {
    const double height = (on_master.y + 0.5) / band_.scale - 0.5;
    return height >= band_.top - 0.5 && height < band_.bottom - 0.5;
  }

  [[nodiscard]] int plane_of(int p, int x, int y) const { return frame_.bayer ? bayer_plane(*frame_.bayer, x, y) : p; }

  const StackFrame& frame_;
  const FrameFacts& facts_;
  const CentreRows& centre_;
  const int planes_;
  const math::CombineOptions& options_;
  const CountBand& band_;
  const int y0_, count_;
  const int top_, rows_;  // judged: those asked for and their growth
  PreparedRows prepared_;
  Image<float> value_, variance_, excess_;
  Image<std::uint8_t> counted_;
};

}  // namespace

int master_margin(const StackFrame& frame) {
  const math::Affine t =
      frame.to_master.linear_at({frame.source->facts().width / 2.0, frame.source->facts().height / 2.0});
  const double pixel = std::max(std::fabs(t.a) + std::fabs(t.b), std::fabs(t.d) + std::fabs(t.e));
  // Of the frame: the drop itself and its growth; of the master: the kernel's taps, and the slope's neighbour.
  return static_cast<int>(std::ceil((1 + kGrowth) * pixel * 1.05)) + math::LanczosPolynomials::kTaps / 2 + 2;
}

Result<Judged> judge_rows(const StackFrame& frame, int y0, int count, const CentreRows& centre, int planes,
                          const math::CombineOptions& options, const CountBand& band, const Context& ctx) {
  Judge judge(frame, y0, count, centre, planes, options, band);
  return judge.run(ctx);
}

}  // namespace ng::reduce
