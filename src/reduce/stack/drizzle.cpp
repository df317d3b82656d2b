#include "reduce/stack/drizzle.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/parallel.h"
#include "frame/background_map.h"
#include "math/robust.h"
#include "reduce/stack/blot.h"
#include "reduce/stack/centre_rows.h"
#include "reduce/stack/mesh_on_master.h"
#include "reduce/stack/noise_curve.h"

namespace ng::reduce {
namespace {

constexpr std::size_t kFewestSamples = 1000;
constexpr int kStripRows = 8;  // of the output, that one hand fills at a time

class Drizzle {
 public:
  Drizzle(std::span<const StackFrame> frames, const DrizzleOptions& options,
          const std::function<Result<void>(const StackBand&)>& deliver, const Context& ctx)
      : options_(options), deliver_(deliver), ctx_(ctx), centre_(options.stack.width, options.stack.planes) {
    width_ = drizzled_size(options.stack.width, options.scale);
    height_ = drizzled_size(options.stack.height, options.scale);
    for (const StackFrame& f : frames) {
      frames_.push_back(f);
      frames_.back().coverage = 1;  // the ordinary master counts frames: three make a judgement
      drops_.push_back(drop_frame(f, options));
      drops_.back().half = frames_.size() % 2 == 0;
      margin_ = std::max(margin_, master_margin(f));
      tallest_drop_ = std::max(tallest_drop_, drop_height(drops_.back()));
    }
    // An eighth of the budget for the sums of a band; as tall as the bands of the integration, where that fits.
    const std::size_t row_bytes =
        static_cast<std::size_t>(width_) * static_cast<std::size_t>(options.stack.planes) * sizeof(DropSum);
    band_ = std::clamp(static_cast<int>(ctx.memory_budget_bytes / 8 / std::max<std::size_t>(1, row_bytes)), kStripRows,
                       static_cast<int>(std::ceil(96 / options.scale)));
    sums_ = Image<DropSum>(width_, band_, options.stack.planes);
    plain_ = Image<float>(width_, band_ + 2 * tallest_drop_, options.stack.planes);
    for (Image<float>* image : {&mean_, &variance_, &coverage_, &rejected_})
      *image = Image<float>(width_, band_, options.stack.planes);
  }

  Result<StackCounts> run() {
    Context ordinary = ctx_;
    ordinary.memory_budget_bytes = ctx_.memory_budget_bytes / 4 * 3;
    NG_TRY(const StackCounts counts, integrate(
                                         frames_, options_.stack,
                                         [this](const StackBand& band) -> Result<void> {
                                           centre_.append(band,
                                                          options_.stack.sky[static_cast<std::size_t>(band.plane)]);
                                           return {};
                                         },
                                         ordinary, [this]() { return fall(); }));
    (void)counts;  // of interpolated values; those of the drops are the ones that count
    counts_.noise_correlation = noise_correlation(options_.pixfrac, options_.scale);
    tell_noise();
    return counts_;
  }

 private:
  // All bands whose judgement has its rows of the ordinary master.
  Result<void> fall() {
    while (next_ < height_) {
      const int rows = std::min(band_, height_ - next_);
      const double bottom = (next_ + rows) * options_.scale;
      if (centre_.end() < options_.stack.height && centre_.end() < bottom + margin_) return {};
      NG_CHECK(centre_.find_slopes(options_.stack, ctx_));
      NG_CHECK(fall_band(next_, rows));
      next_ += rows;
      centre_.forget_above(static_cast<int>(std::floor(next_ * options_.scale)) - margin_);
    }
    return {};
  }

  // The weights that a band's pixels would get without balancing, and those of the rows that its drops reach.
  Result<PlainWeights> plain_weights(int y0, int rows) {
    const int top = std::max(0, y0 - tallest_drop_), bottom = std::min(height_, y0 + rows + tallest_drop_);
    NG_CHECK(parallel_for(ctx_, (bottom - top + kStripRows - 1) / kStripRows, [&](int strip) {
      const int from = strip * kStripRows, height = std::min(kStripRows, bottom - top - from);
      const PlainWeights window = weights_at(top, from, height);
      for (const View<float>& plane : window.sums)
        for (int y = 0; y < plane.height; ++y) std::fill_n(plane.row(y), width_, 0.0f);
      for (const DropFrame& drop : drops_) {
        const FrameRows need = rows_reaching(drop, 0, top + from, width_, height);
        add_plain_weights(drop, options_.stack.planes, need.y0, need.count, window);
      }
    }));
    return weights_at(top, 0, bottom - top);
  }

  [[nodiscard]] PlainWeights weights_at(int top, int from, int height) {
    PlainWeights window{0, top + from, {}};
    for (int p = 0; p < options_.stack.planes; ++p)
      window.sums[static_cast<std::size_t>(p)] = plain_.plane(p).rows(from, height);
    return window;
  }

  Result<void> fall_band(int y0, int rows) {
    NG_TRY(const PlainWeights plain, plain_weights(y0, rows));
    NG_CHECK(parallel_for(ctx_, rows, [&](int y) {
      for (int p = 0; p < options_.stack.planes; ++p) std::fill_n(sums_.plane(p).row(y), width_, DropSum{});
    }));
    // Some frames are judged side by side, then fall one after the other, all hands working on strips of the output.
    const std::size_t together = ctx_.pool == nullptr ? 1 : static_cast<std::size_t>(ctx_.pool->threads());
    for (std::size_t first = 0; first < frames_.size(); first += together) {
      const std::size_t count = std::min(together, frames_.size() - first);
      std::vector<Judged> judged(count);
      NG_CHECK(parallel_for(ctx_, static_cast<int>(count), [&](int k) -> Result<void> {
        const std::size_t j = first + static_cast<std::size_t>(k);
        const FrameRows need = rows_reaching(drops_[j], 0, y0, width_, rows);
        if (need.count == 0) return {};
        const CountBand band{static_cast<double>(y0), static_cast<double>(y0 + rows), options_.scale};
        NG_TRY(judged[static_cast<std::size_t>(k)],
               judge_rows(frames_[j], need.y0, need.count, centre_, options_.stack.planes, options_.stack.combine, band,
                          ctx_.serial()));
        return {};
      }));
      for (const Judged& j : judged) {
        counts_.values += j.counts.values;
        counts_.rejected += j.counts.rejected;
      }
      NG_CHECK(parallel_for(ctx_, (rows + kStripRows - 1) / kStripRows, [&](int strip) {
        const int top = strip * kStripRows;
        const int height = std::min(kStripRows, rows - top);
        DropWindow window{0, y0 + top, {}};
        for (int p = 0; p < options_.stack.planes; ++p)
          window.sums[static_cast<std::size_t>(p)] = sums_.plane(p).rows(top, height);
        for (std::size_t k = 0; k < count; ++k) {
          const DropRows& drop_rows = judged[k].rows;
          if (drop_rows.value.empty()) continue;
          const FrameRows need = rows_reaching(drops_[first + k], 0, y0 + top, width_, height);
          const int from = std::max(need.y0, drop_rows.y0);
          const int to = std::min(need.y0 + need.count, drop_rows.y0 + drop_rows.value.height());
          add_drops(drops_[first + k], drop_rows, from, to - from, window, &plain);
        }
      }));
    }
    return deliver_band(y0, rows);
  }

  // Rows that the noise is told from: enough of them for some 50000 samples.
  [[nodiscard]] bool tells_noise(int y) const {
    const int step = std::max(1, height_ / std::max(1, 150000 / width_)) | 1;  // odd: both kinds of rows of a mosaic
    return y % step == step / 2;
  }

  // Of one row of the sums, row `at` of the output: by how many sigma the halves of the frames differ where the sky is
  // bare, and the variance of the whole.
  void compare_halves(View<const DropSum> sums, int y, int at) {
    const auto plane = static_cast<std::size_t>(options_.stack.noise_plane);
    std::vector<float> noise;
    for (const DropFrame& drop : drops_) noise.push_back(static_cast<float>(std::sqrt(drop.variance[plane])));
    const double brightest = kBareSky * static_cast<double>(math::median(std::span<float>(noise)));
    const Image<float>& sky = options_.stack.sky[plane];
    const double master_y = (at + 0.5) * options_.scale - 0.5;
    for (int x = 0; x < sums.width; ++x) {
      const DropSum& s = sums(x, y);
      const double master_x = (x + 0.5) * options_.scale - 0.5;
      if (!sky.empty() && s.value > s.weight * (mesh_at(sky, kMasterBoxPx, master_x, master_y) + brightest)) continue;
      const double rest = s.weight - s.half_weight;
      if (!(s.half_weight > 0.2 * s.weight && rest > 0.2 * s.weight)) continue;
      const double difference = s.half_value / s.half_weight - (s.value - s.half_value) / rest;
      const double variance = static_cast<double>(s.half_variance) / (s.half_weight * s.half_weight) +
                              static_cast<double>(s.variance - s.half_variance) / (rest * rest);
      pulls_.push_back(static_cast<float>(difference / std::sqrt(variance)));
      variances_.push_back(static_cast<float>(static_cast<double>(s.variance) / (s.weight * s.weight)));
    }
  }

  void tell_noise() {
    if (pulls_.size() < kFewestSamples || frames_.size() < 4) return;
    const double predicted =
        options_.scale * options_.scale * std::sqrt(static_cast<double>(math::median(std::span<float>(variances_))));
    const auto scatter = static_cast<double>(math::mad_sigma(std::span<float>(pulls_), 0));
    counts_.noise = {{static_cast<int>(frames_.size()), scatter * predicted, predicted}};
  }

  Result<void> deliver_band(int y0, int rows) {
    for (int y = 0; y < rows; ++y)
      if (tells_noise(y0 + y)) compare_halves(sums_.plane(options_.stack.noise_plane), y, y0 + y);
    const double area = options_.scale * options_.scale;  // of an output pixel, in pixels of the master
    NG_CHECK(parallel_for(ctx_, rows, [&](int y) {
      for (int p = 0; p < options_.stack.planes; ++p) {
        const DropSum* sum = sums_.plane(p).row(y);
        for (int x = 0; x < width_; ++x) {
          const bool any = sum[x].weight > 0;
          mean_.plane(p)(x, y) = any ? static_cast<float>(area * sum[x].value / sum[x].weight) : std::nanf("");
          variance_.plane(p)(x, y) = any ? static_cast<float>(area * area * static_cast<double>(sum[x].variance) /
                                                              (sum[x].weight * sum[x].weight))
                                         : std::nanf("");
          coverage_.plane(p)(x, y) = sum[x].coverage;
          rejected_.plane(p)(x, y) = sum[x].rejected;
        }
      }
    }));
    for (int p = 0; p < options_.stack.planes; ++p)
      NG_CHECK(deliver_({p, y0, mean_.plane(p).rows(0, rows), variance_.plane(p).rows(0, rows),
                         coverage_.plane(p).rows(0, rows), rejected_.plane(p).rows(0, rows)}));
    return {};
  }

  const DrizzleOptions& options_;
  const std::function<Result<void>(const StackBand&)>& deliver_;
  const Context& ctx_;
  std::vector<StackFrame> frames_;
  std::vector<DropFrame> drops_;
  CentreRows centre_;
  int width_ = 0, height_ = 0;
  int tallest_drop_ = 0;  // in rows of the output
  int margin_ = 0;        // rows of the master around a band that judge what falls into it
  int band_ = 0;
  int next_ = 0;  // first output row that has not been made
  Image<DropSum> sums_;
  Image<float> plain_;
  Image<float> mean_, variance_, coverage_, rejected_;
  std::vector<float> pulls_, variances_;
  StackCounts counts_;
};

}  // namespace

int drizzled_size(int master_size, double scale) {
  return std::max(1, static_cast<int>(std::floor(master_size / scale + 1e-9)));
}

math::PlaneMap to_drizzled(double scale) {
  const double shift = 0.5 / scale - 0.5;
  return math::Affine{1 / scale, 0, shift, 0, 1 / scale, shift};
}

double noise_correlation(double pixfrac, double scale) {
  const double r = pixfrac / scale;
  return r <= 1 ? 1 / (1 - r / 3) : r / (1 - 1 / (3 * r));
}

DropFrame drop_frame(const StackFrame& frame, const DrizzleOptions& options) {
  DropFrame drop;
  drop.width = frame.source->facts().width;
  drop.height = frame.source->facts().height;
  drop.to_output = options.scale == 1 ? frame.to_master : to_drizzled(options.scale).after(frame.to_master);
  drop.pixfrac = options.pixfrac;
  drop.bayer = frame.bayer;
  for (std::size_t p = 0; p < 3; ++p) {
    drop.weight[p] = frame.planes[p].weight;
    drop.variance[p] = std::pow(frame.planes[p].noise * frame.pixel_area / frame.planes[p].scale, 2);
  }
  drop.coverage = frame.coverage;
  drop.panel = frame.panel;
  drop.feather = {options.stack.feather_px, drop.width, drop.height};
  return drop;
}

Result<StackCounts> drizzle(std::span<const StackFrame> frames, const DrizzleOptions& options,
                            const std::function<Result<void>(const StackBand&)>& deliver, const Context& ctx) {
  Drizzle drizzle(frames, options, deliver, ctx);
  return drizzle.run();
}

}  // namespace ng::reduce
