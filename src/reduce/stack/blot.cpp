#include "reduce/stack/blot.h"

#include <algorithm>
#include <cmath>

#include "frame/background_map.h"
#include "math/lanczos.h"
#include "math/resample.h"
#include "reduce/stack/prepare.h"
#include "reduce/stack/slope.h"

namespace ng::reduce {
namespace {

// One row more on each side, whose hits reach in; another one for their slopes.
constexpr int kGrowth = 1;
constexpr int kSlope = 1;
// Added to the allowance under a mosaic, in pixels: the demosaiced master is a little wider than the truth of one
// colour. Without it a bright star of FWHM 2.6 px loses one pixel in some hundred (drizzle_test.cpp).
constexpr float kMosaicAllowance = 0.3f;

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
        count_(count) {
    top_ = std::max(0, y0 - kGrowth);
    rows_ = std::min(facts_.height, y0 + count + kGrowth) - top_;
  }

  Result<Judged> run(const Context& ctx) {
    StackFrame raw = frame_;
    raw.bayer.reset();
    NG_TRY(prepared_, prepare_rows(raw, top_, rows_, frame_.bayer ? 1 : planes_, ctx));
    blot();
    const int value_planes = frame_.bayer ? 1 : planes_;
    value_ = Image<float>(facts_.width, rows_, value_planes);
    variance_ = Image<float>(facts_.width, rows_, value_planes);
    excess_ = Image<float>(facts_.width, rows_, value_planes);
    for (int p = 0; p < value_planes; ++p)
      for (int y = 0; y < rows_; ++y) weigh_row(p, y);
    return sentence(value_planes);
  }

 private:
  // The master's rows in the frame's pixels, and how steep they are.
  void blot() {
    const int top = std::max(0, top_ - kSlope);
    const int rows = std::min(facts_.height, top_ + rows_ + kSlope) - top;
    blotted_ = Image<float>(facts_.width, rows, planes_);
    Image<float> squares(facts_.width, rows);
    slope_ = Image<float>(facts_.width, rows_, planes_);
    const math::LanczosPolynomials lanczos;
    blotted_y0_ = top;
    for (int p = 0; p < planes_; ++p) {
      math::ResampleOptions resample;
      resample.guard = static_cast<float>(3 * frame_.planes[static_cast<std::size_t>(p)].noise);
      math::resample_rows({centre_.mean(p), centre_.missing(p), centre_.first()}, frame_.to_master, top,
                          blotted_.plane(p), squares.plane(), resample, lanczos);
      for (int y = 0; y < rows_; ++y) slope_row(blotted_.plane(p), top_ + y - top, slope_.plane(p).row(y));
    }
  }

  // Values and variances of a row on the scale of the master, and by how many sigma each is off; 0 where nobody can
  // tell.
  void weigh_row(int p, int row) {
    const int y = top_ + row;
    const float* pixels = prepared_.pixels.plane(p).row(y - prepared_.y0);
    const std::uint8_t* bad = prepared_.bad.plane().row(y - prepared_.y0);
    float* value = value_.plane(p).row(row);
    float* variance = variance_.plane(p).row(row);
    float* excess = excess_.plane(p).row(row);
    std::array<std::vector<float>, 2> bare;  // variance on bare sky, of the two colours of a mosaic row
    for (int k = 0; k < (frame_.bayer ? 2 : 1); ++k)
      bare[static_cast<std::size_t>(k)] = bare_variance(plane_of(p, k, y), y);
    const float allowance = options_.slope_allowance + (frame_.bayer ? kMosaicAllowance : 0);
    for (int x = 0; x < facts_.width; ++x) {
      const int plane = plane_of(p, x, y);
      const PlaneScale& scale = frame_.planes[static_cast<std::size_t>(plane)];
      const math::Point at = frame_.to_master.apply({static_cast<double>(x), static_cast<double>(y)});
      const float c = blotted_.plane(plane)(x, y - blotted_y0_);
      excess[x] = 0;
      variance[x] = 0;
      value[x] = 0;
      const int mx = static_cast<int>(std::floor(at.x + 0.5));
      const int my = static_cast<int>(std::floor(at.y + 0.5)) - centre_.first();
      const View<const float> frames = centre_.frames(plane);
      if (bad[x] != 0 || mx < 0 || mx >= frames.width || my < 0 || my >= frames.height) continue;
      const auto factor = static_cast<float>(frame_.pixel_area / scale.scale);
      value[x] = pixels[x] * factor - static_cast<float>(scale.sky.at(at.x, at.y));
      const float on_sky = bare[frame_.bayer ? static_cast<std::size_t>(x & 1) : 0][static_cast<std::size_t>(x)];
      if (frames(mx, my) < 3) {
        variance[x] = frames(mx, my) > 0 ? on_sky : 0;
        continue;
      }
      if (std::isnan(c)) continue;
      const float signal = std::max(0.0f, c - centre_.sky(plane)(mx, my));
      const auto share = static_cast<float>(1 / (factor * scale.noise * scale.noise));
      variance[x] = on_sky * (1 + share * signal);
      const float steep = allowance * slope_.plane(plane)(x, row);
      const float off = value[x] - c;
      excess[x] = std::fabs(off) / std::sqrt(variance[x] + centre_.variance(plane)(mx, my) + steep * steep);
    }
  }

  [[nodiscard]] std::vector<float> bare_variance(int plane, int y) const {
    const PlaneScale& scale = frame_.planes[static_cast<std::size_t>(plane)];
    const double factor = std::pow(frame_.pixel_area / scale.scale, 2);
    std::vector<float> row(static_cast<std::size_t>(facts_.width), static_cast<float>(scale.noise * scale.noise));
    if (scale.variance != nullptr && !scale.variance->empty())
      mesh_row(*scale.variance, scale.variance_box_px, y, facts_.width, row.data());
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
        float* variance = result.rows.variance.plane(p).row(y - y0_);
        std::copy_n(value_.plane(p).row(y - top_), facts_.width, result.rows.value.plane(p).row(y - y0_));
        std::copy_n(variance_.plane(p).row(y - top_), facts_.width, variance);
        const float near = options_.near_share * options_.kappa;
        for (int x = 0; x < facts_.width; ++x) {
          if (variance[x] == 0) continue;
          const bool out =
              excess[x] > options_.kappa || (excess[x] > near && touches_hit(excess_.plane(p), x, y - top_));
          if (counts_here(x, y)) {
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

  [[nodiscard]] bool counts_here(int x, int y) const {
    const math::Point at = frame_.to_master.apply({static_cast<double>(x), static_cast<double>(y)});
    const double height = (at.y + 0.5) / band_.scale - 0.5;
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
  int top_ = 0, rows_ = 0;  // judged: those asked for and their growth
  int blotted_y0_ = 0;
  PreparedRows prepared_;
  Image<float> blotted_, slope_, value_, variance_, excess_;
};

}  // namespace

int master_margin(const StackFrame& frame) {
  const math::Affine t =
      frame.to_master.linear_at({frame.source->facts().width / 2.0, frame.source->facts().height / 2.0});
  const double pixel = std::max(std::fabs(t.a) + std::fabs(t.b), std::fabs(t.d) + std::fabs(t.e));
  // Of the frame: the drop itself, its growth, their slopes; of the master: the kernel's taps.
  return static_cast<int>(std::ceil((1 + kGrowth + kSlope) * pixel * 1.05)) + math::LanczosPolynomials::kTaps / 2 + 1;
}

Result<Judged> judge_rows(const StackFrame& frame, int y0, int count, const CentreRows& centre, int planes,
                          const math::CombineOptions& options, const CountBand& band, const Context& ctx) {
  Judge judge(frame, y0, count, centre, planes, options, band);
  return judge.run(ctx);
}

}  // namespace ng::reduce
