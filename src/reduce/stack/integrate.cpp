#include "reduce/stack/integrate.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/parallel.h"
#include "frame/background_map.h"
#include "reduce/stack/feather.h"
#include "reduce/stack/light_on_master.h"
#include "reduce/stack/mesh_on_master.h"
#include "reduce/stack/slope.h"

namespace ng::reduce {
namespace {

// Rows of a band: its own, those combined (one more on each side, whose hits reach in), those held in the slots
// (another one, for their slopes).
struct Span {
  int y0 = 0, rows = 0;
  int top = 0, bottom = 0;
  int slot_top = 0, slot_rows = 0;
};

class Stack {
 public:
  Stack(std::span<const StackFrame> frames, const StackOptions& options, const Context& ctx)
      : frames_(frames), options_(options), ctx_(ctx), noise_(static_cast<int>(frames.size())) {
    const auto row_bytes = static_cast<std::size_t>(options.width) * frames.size() *
                           static_cast<std::size_t>(options.planes) * 2 * sizeof(float);
    // A third of the budget for the slots, the rest for source rows and what the caller holds: the masters of
    // calibration and the picture that comes of it.
    const std::size_t fit = ctx.memory_budget_bytes / 3 / std::max<std::size_t>(1, row_bytes);
    band_ = std::clamp(static_cast<int>(fit) - 4, 4, 96);
    for (std::size_t j = 0; j < frames.size(); ++j) slots_.emplace_back(options.width, band_ + 4, options.planes);
    median_ = Image<float>(options.width, band_ + 4);
    hits_ = Image<math::HitWord>((options.width + math::kHitPixels - 1) / math::kHitPixels,
                                 static_cast<int>(frames.size()) * (band_ + 2));
    for (auto* image : {&mean_, &variance_, &coverage_, &rejected_})
      *image = Image<float>(options.width, band_ + 2, options.planes);
    kernel_squares_.resize(frames.size());
    for (const StackFrame& f : frames) {
      coverage_of_.push_back(f.coverage);
      to_frame_.push_back(f.to_master.inverse());
      variance_meshes_.push_back(variance_on_master(f, options.width, options.height, options.planes));
    }
  }

  Result<StackCounts> run(const std::function<Result<void>(const StackBand&)>& deliver,
                          const std::function<Result<void>()>& between) {
    Span done;  // the band that is ready but not delivered
    const auto deliver_done = [&]() -> Result<void> {
      const int first = done.y0 - done.top;
      for (int p = 0; p < options_.planes && done.rows > 0; ++p)
        NG_CHECK(deliver({p, done.y0, mean_.plane(p).rows(first, done.rows), variance_.plane(p).rows(first, done.rows),
                          coverage_.plane(p).rows(first, done.rows), rejected_.plane(p).rows(first, done.rows)}));
      return {};
    };
    for (int y0 = 0; y0 < options_.height; y0 += band_) {
      const Span span = span_at(y0);
      // One hand delivers the last band while the others fill the next.
      NG_CHECK(parallel_for(ctx_, static_cast<int>(frames_.size()) + 1, [&](int j) {
        return j == 0 ? deliver_done() : fill_slot(static_cast<std::size_t>(j - 1), span);
      }));
      for (int plane = 0; plane < options_.planes; ++plane) NG_CHECK(combine(plane, span));
      done = span;
      ctx_.advance(span.rows);
      if (between) NG_CHECK(between());
    }
    NG_CHECK(deliver_done());
    if (between) NG_CHECK(between());
    counts_.noise = noise_.points();
    counts_.noise_correlation = noise_correlation();
    return counts_;
  }

 private:
  [[nodiscard]] Span span_at(int y0) const {
    Span s{y0, std::min(band_, options_.height - y0), 0, 0, 0, 0};
    s.top = std::max(0, y0 - 1);
    s.bottom = std::min(options_.height, y0 + s.rows + 1);
    s.slot_top = std::max(0, y0 - 2);
    s.slot_rows = std::min(options_.height, y0 + s.rows + 2) - s.slot_top;
    return s;
  }

  Result<void> fill_slot(std::size_t j, const Span& span) {
    NG_CHECK(light_on_master(frames_[j], span.slot_top, span.slot_rows, slots_[j], lanczos_, ctx_.serial()));
    sum_kernel_squares(j, span);
    predict_variance(variance_meshes_[j], span.slot_top, span.slot_rows, slots_[j].variance);
    return {};
  }

  // Of the rows that tell the noise, while the slot holds them still.
  void sum_kernel_squares(std::size_t j, const Span& span) {
    for (int y = span.y0; y < span.y0 + span.rows; ++y) {
      if (!tells_noise(options_.noise_plane, y, span)) continue;
      const float* squares = slots_[j].variance.plane(options_.noise_plane).row(y - span.slot_top);
      for (int x = 0; x < options_.width; ++x) {  // zero where there is no value
        kernel_squares_[j].sum += static_cast<double>(squares[x]);
        kernel_squares_[j].values += squares[x] > 0 ? 1 : 0;
      }
    }
  }

  [[nodiscard]] double noise_correlation() const {
    double single = 0, wide = 0;
    for (std::size_t j = 0; j < frames_.size(); ++j) {
      const KernelSquares& k = kernel_squares_[j];
      if (k.values == 0) continue;
      const PlaneScale& p = frames_[j].planes[static_cast<std::size_t>(options_.noise_plane)];
      // A master pixel that gathers the light of `area` pixels has, in a wide sum, the noise of so many.
      const double noise = p.weight * p.noise / p.scale;
      wide += noise * noise * frames_[j].pixel_area;
      single += noise * noise * frames_[j].pixel_area * frames_[j].pixel_area * k.sum / k.values;
    }
    return single > 0 ? std::sqrt(wide / single) : 1;
  }

  // Rows that the noise is told from: enough of them for some 50000 samples.
  [[nodiscard]] bool tells_noise(int plane, int y, const Span& span) const {
    const int wanted = std::max(1, 150000 / options_.width);
    const int step = std::max(1, options_.height / wanted);
    return plane == options_.noise_plane && y >= span.y0 && y < span.y0 + span.rows && y % step == step / 2;
  }

  // What is combined of one row.
  struct RowInputs {
    std::vector<math::CombineInput> inputs;
    Image<float> sky, slope;
    Image<float> fades;  // one row per frame; empty where none fades
  };

  [[nodiscard]] RowInputs inputs_of(int plane, int y, const Span& span) const {
    RowInputs row{{}, Image<float>(options_.width, 1, 1, 0.0f), Image<float>(options_.width, 1), {}};
    if (options_.feather_px > 0) row.fades = fades_at(y);
    const int in_slot = y - span.slot_top;
    for (std::size_t j = 0; j < frames_.size(); ++j) {
      const PlaneScale& p = frames_[j].planes[static_cast<std::size_t>(plane)];
      const double factor = frames_[j].pixel_area / p.scale;
      row.inputs.push_back({slots_[j].values.plane(plane).row(in_slot), slots_[j].variance.plane(plane).row(in_slot),
                            static_cast<float>(1 / (p.noise * p.noise * factor)), static_cast<float>(p.weight),
                            row.fades.empty() ? nullptr : row.fades.plane().row(static_cast<int>(j))});
    }
    slope_row(median_.plane().rows(0, span.slot_rows), in_slot, row.slope.plane().row(0));
    add_seeing_allowance({median_.plane().row(in_slot), static_cast<std::size_t>(options_.width)}, options_.seeing,
                         options_.combine.kappa, options_.combine.slope_allowance, row.slope.plane().row(0));
    const Image<float>& sky_mesh = options_.sky[static_cast<std::size_t>(plane)];
    if (!sky_mesh.empty()) mesh_row(sky_mesh, kMasterBoxPx, y, options_.width, row.sky.plane().row(0));
    return row;
  }

  [[nodiscard]] Image<float> fades_at(int y) const {
    const auto width = static_cast<std::size_t>(options_.width);
    Image<float> fades(options_.width, static_cast<int>(frames_.size()));
    for (std::size_t j = 0; j < frames_.size(); ++j) {
      const FrameFacts& facts = frames_[j].source->facts();
      feather_row({options_.feather_px, facts.width, facts.height}, to_frame_[j], y,
                  {fades.plane().row(static_cast<int>(j)), width});
    }
    return fades;
  }

  // Row y of the results; `hits` holds one row per frame.
  [[nodiscard]] math::CombineOutput output_of(int plane, int y, const Span& span,
                                              std::span<math::HitWord* const> hits) {
    const int r = y - span.top;
    return {mean_.plane(plane).row(r), variance_.plane(plane).row(r), coverage_.plane(plane).row(r),
            rejected_.plane(plane).row(r), hits};
  }

  [[nodiscard]] std::vector<math::HitWord*> hits_of(int y, const Span& span) {
    std::vector<math::HitWord*> rows;
    for (std::size_t j = 0; j < frames_.size(); ++j)
      rows.push_back(hits_.plane().row(static_cast<int>(j) * (band_ + 2) + y - span.top));
    return rows;
  }

  Result<void> combine(int plane, const Span& span) {
    NG_CHECK(parallel_for(ctx_, span.slot_rows, [&](int y) {
      std::vector<const float*> pointers;
      for (const LightRows& slot : slots_) pointers.push_back(slot.values.plane(plane).row(y));
      math::median_rows(pointers, options_.width, median_.plane().row(y));
    }));
    std::vector<math::CombineCounts> counts(static_cast<std::size_t>(span.bottom - span.top));
    std::vector<NoiseCurve::Sample> samples(counts.size());
    NG_CHECK(parallel_for(ctx_, span.bottom - span.top, [&](int r) {
      const int y = span.top + r;
      const RowInputs row = inputs_of(plane, y, span);
      const auto hits = hits_of(y, span);
      counts[static_cast<std::size_t>(r)] = math::combine_rows(
          row.inputs, coverage_of_, median_.plane().row(y - span.slot_top), row.sky.plane().row(0),
          row.slope.plane().row(0), options_.width, options_.combine, output_of(plane, y, span, hits));
      if (tells_noise(plane, y, span))
        samples[static_cast<std::size_t>(r)] =
            noise_.sample({row.inputs, hits, mean_.plane(plane).row(r), row.sky.plane().row(0), options_.width});
    }));
    NG_CHECK(parallel_for(ctx_, span.rows, [&](int i) {
      const int y = span.y0 + i;
      const int words = hits_.width();
      Image<math::HitWord> near(words, static_cast<int>(frames_.size()));
      std::vector<const math::HitWord*> near_rows;
      bool any = false;
      const auto here = hits_of(y, span);
      const auto above = y > span.top ? hits_of(y - 1, span) : here;
      const auto below = y + 1 < span.bottom ? hits_of(y + 1, span) : here;
      for (std::size_t j = 0; j < frames_.size(); ++j) {
        math::HitWord* bits = near.plane().row(static_cast<int>(j));
        any = math::near_hits(above[j], here[j], below[j], words, bits) || any;
        near_rows.push_back(bits);
      }
      if (!any) return;
      const RowInputs row = inputs_of(plane, y, span);
      counts[static_cast<std::size_t>(y - span.top)].rejected += math::regrow_rows(
          row.inputs, coverage_of_, median_.plane().row(y - span.slot_top), row.sky.plane().row(0),
          row.slope.plane().row(0), options_.width, options_.combine, near_rows, output_of(plane, y, span, {}));
    }));
    for (int y = span.y0; y < span.y0 + span.rows; ++y) {
      const auto r = static_cast<std::size_t>(y - span.top);
      counts_.values += counts[r].values;
      counts_.rejected += counts[r].rejected;
      if (tells_noise(plane, y, span)) noise_.add(std::move(samples[r]));
    }
    return {};
  }

  std::span<const StackFrame> frames_;
  const StackOptions& options_;
  const Context& ctx_;
  const math::LanczosPolynomials lanczos_;
  int band_ = 0;
  std::vector<LightRows> slots_;
  std::vector<float> coverage_of_;
  std::vector<math::PlaneMap> to_frame_;
  std::vector<VarianceMeshes> variance_meshes_;  // per frame
  Image<math::HitWord> hits_;                    // rows of frame 0, then of frame 1 ...
  Image<float> median_, mean_, variance_, coverage_, rejected_;
  struct KernelSquares {
    double sum = 0, values = 0;
  };
  std::vector<KernelSquares> kernel_squares_;  // per frame
  NoiseCurve noise_;
  StackCounts counts_;
};

}  // namespace

Result<StackCounts> integrate(std::span<const StackFrame> frames, const StackOptions& options,
                              const std::function<Result<void>(const StackBand&)>& deliver, const Context& ctx,
                              const std::function<Result<void>()>& between) {
  Stack stack(frames, options, ctx);
  return stack.run(deliver, between);
}

}  // namespace ng::reduce
