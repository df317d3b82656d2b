#include "reduce/stack/integrate.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "base/parallel.h"
#include "frame/background_map.h"
#include "reduce/stack/feather.h"
#include "reduce/stack/frame_reach.h"
#include "reduce/stack/light_on_master.h"
#include "reduce/stack/master_stretches.h"
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

// What is held of a frame while bands are made that it reaches.
struct Slot {
  LightRows light;
  Image<float> fades;         // factors of its weight; empty where it does not fade
  Image<math::HitWord> hits;  // what is left out of it, of the rows combined
};

class Stack {
 public:
  Stack(std::span<const StackFrame> frames, const StackOptions& options, const Context& ctx)
      : frames_(frames), options_(options), ctx_(ctx), slots_(frames.size()), noise_(static_cast<int>(frames.size())) {
    for (const StackFrame& f : frames) {
      coverage_of_.push_back(f.coverage);
      to_frame_.push_back(f.to_master.inverse());
      variance_meshes_.push_back(variance_on_master(f, options.width, options.height, options.planes));
      reaches_.push_back(reach_on_master(f, options.width, options.height));
    }
    // A third of the budget for the slots, the rest for source rows and what the caller holds: the masters of
    // calibration and the picture that comes of it.
    const std::size_t images = static_cast<std::size_t>(options.planes) * 2 + (options.feather_px > 0 ? 1 : 0);
    band_ = band_that_fits(reaches_, options.height, 4, 96, 4, images * sizeof(float), ctx.memory_budget_bytes / 3);
    median_ = Image<float>(options.width, band_ + 4);
    for (auto* image : {&mean_, &variance_, &coverage_, &rejected_})
      *image = Image<float>(options.width, band_ + 2, options.planes);
    kernel_squares_.resize(frames.size());
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
      stretches_ = stretches_of(reaches_, span.slot_top, span.slot_rows, options_.width);
      const std::vector<std::size_t> here = take_slots(span);
      // One hand delivers the last band while the others fill the next.
      NG_CHECK(parallel_for(ctx_, static_cast<int>(here.size()) + 1, [&](int k) {
        return k == 0 ? deliver_done() : fill_slot(here[static_cast<std::size_t>(k - 1)], span);
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

  // The frames that reach the band; the others hold nothing.
  std::vector<std::size_t> take_slots(const Span& span) {
    std::vector<std::size_t> here;
    for (std::size_t j = 0; j < frames_.size(); ++j) {
      if (meets_rows(reaches_[j], span.slot_top, span.slot_rows)) {
        here.push_back(j);
      } else {
        slots_[j] = {};
      }
    }
    return here;
  }

  Result<void> fill_slot(std::size_t j, const Span& span) {
    Slot& slot = slots_[j];
    const Region& reach = reaches_[j];
    if (slot.light.values.empty()) {
      slot.light = LightRows(reach.x0, reach.width, band_ + 4, options_.planes);
      slot.hits = Image<math::HitWord>((reach.width + math::kHitPixels - 1) / math::kHitPixels, band_ + 2);
      if (options_.feather_px > 0) slot.fades = Image<float>(reach.width, band_ + 4);
    }
    NG_CHECK(light_on_master(frames_[j], span.slot_top, span.slot_rows, slot.light, lanczos_, ctx_.serial()));
    sum_kernel_squares(j, span);
    predict_variance(variance_meshes_[j], span.slot_top, span.slot_rows, slot.light);
    const FrameFacts& facts = frames_[j].source->facts();
    for (int y = 0; y < span.slot_rows && !slot.fades.empty(); ++y)
      feather_row({options_.feather_px, facts.width, facts.height}, to_frame_[j], reach.x0, span.slot_top + y,
                  {slot.fades.plane().row(y), static_cast<std::size_t>(reach.width)});
    return {};
  }

  // Of the rows that tell the noise, while the slot holds them still.
  void sum_kernel_squares(std::size_t j, const Span& span) {
    const Image<float>& squares = slots_[j].light.variance;
    for (int y = span.y0; y < span.y0 + span.rows; ++y) {
      if (!tells_noise(options_.noise_plane, y, span)) continue;
      const float* row = squares.plane(options_.noise_plane).row(y - span.slot_top);
      for (int x = 0; x < squares.width(); ++x) {  // zero where there is no value
        kernel_squares_[j].sum += static_cast<double>(row[x]);
        kernel_squares_[j].values += row[x] > 0 ? 1 : 0;
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
    const int step = std::max(1, options_.height / wanted) | 1;  // odd: both kinds of rows of a mosaic
    return plane == options_.noise_plane && y >= span.y0 && y < span.y0 + span.rows && y % step == step / 2;
  }

  // Sky and allowed slope along one row of the master.
  struct RowLimits {
    Image<float> sky, slope;
  };
  [[nodiscard]] RowLimits limits_of(int plane, int y, const Span& span) const {
    RowLimits row{Image<float>(options_.width, 1, 1, 0.0f), Image<float>(options_.width, 1)};
    const int in_slot = y - span.slot_top;
    slope_row(median_.plane().rows(0, span.slot_rows), in_slot, row.slope.plane().row(0));
    add_seeing_allowance({median_.plane().row(in_slot), static_cast<std::size_t>(options_.width)}, options_.seeing,
                         options_.combine.kappa, options_.combine.slope_allowance, row.slope.plane().row(0));
    const Image<float>& sky_mesh = options_.sky[static_cast<std::size_t>(plane)];
    if (!sky_mesh.empty()) mesh_row(sky_mesh, kMasterBoxPx, y, options_.width, row.sky.plane().row(0));
    return row;
  }

  // What is combined of one row, of one stretch of it.
  struct RowInputs {
    std::vector<math::CombineInput> inputs;
    std::vector<float> coverage_of;
  };
  [[nodiscard]] RowInputs inputs_of(const MasterStretch& stretch, int plane, int y, const Span& span) const {
    RowInputs row;
    const int in_slot = y - span.slot_top;
    for (const std::size_t j : stretch.frames) {
      const PlaneScale& p = frames_[j].planes[static_cast<std::size_t>(plane)];
      const double factor = frames_[j].pixel_area / p.scale;
      const Slot& slot = slots_[j];
      const int x = stretch.x0 - slot.light.x0;
      row.inputs.push_back({slot.light.values.plane(plane).row(in_slot) + x,
                            slot.light.variance.plane(plane).row(in_slot) + x,
                            static_cast<float>(1 / (p.noise * p.noise * factor)), static_cast<float>(p.weight),
                            slot.fades.empty() ? nullptr : slot.fades.plane().row(in_slot) + x});
      row.coverage_of.push_back(coverage_of_[j]);
    }
    return row;
  }

  // Of a row of the results; `hits` holds one row per frame of the stretch.
  [[nodiscard]] math::CombineOutput output_of(const MasterStretch& stretch, int plane, int y, const Span& span,
                                              std::span<math::HitWord* const> hits) {
    const int r = y - span.top;
    return {mean_.plane(plane).row(r) + stretch.x0, variance_.plane(plane).row(r) + stretch.x0,
            coverage_.plane(plane).row(r) + stretch.x0, rejected_.plane(plane).row(r) + stretch.x0, hits};
  }

  [[nodiscard]] std::vector<math::HitWord*> hits_of(const MasterStretch& stretch, int y, const Span& span) {
    std::vector<math::HitWord*> rows;
    for (const std::size_t j : stretch.frames)
      rows.push_back(slots_[j].hits.plane().row(y - span.top) + (stretch.x0 - slots_[j].light.x0) / math::kHitPixels);
    return rows;
  }

  // Hits around those of row y, of all frames that have any.
  [[nodiscard]] std::vector<Image<math::HitWord>> near_hits_of(int y, const Span& span) {
    std::vector<Image<math::HitWord>> near(frames_.size());
    for (std::size_t j = 0; j < frames_.size(); ++j) {
      const Image<math::HitWord>& hits = slots_[j].hits;
      if (hits.empty()) continue;
      const math::HitWord* here = hits.plane().row(y - span.top);
      const math::HitWord* above = y > span.top ? hits.plane().row(y - 1 - span.top) : here;
      const math::HitWord* below = y + 1 < span.bottom ? hits.plane().row(y + 1 - span.top) : here;
      Image<math::HitWord> bits(hits.width(), 1);
      if (math::near_hits(above, here, below, hits.width(), bits.plane().row(0))) near[j] = std::move(bits);
    }
    return near;
  }

  Result<void> combine(int plane, const Span& span) {
    NG_CHECK(parallel_for(ctx_, span.slot_rows, [&](int y) {
      for (const MasterStretch& stretch : stretches_) {
        std::vector<const float*> pointers;
        for (const std::size_t j : stretch.frames)
          pointers.push_back(slots_[j].light.values.plane(plane).row(y) + stretch.x0 - slots_[j].light.x0);
        float* median = median_.plane().row(y) + stretch.x0;
        if (pointers.empty()) {
          std::fill_n(median, stretch.width, std::nanf(""));
        } else {
          math::median_rows(pointers, stretch.width, median);
        }
      }
    }));
    std::vector<math::CombineCounts> counts(static_cast<std::size_t>(span.bottom - span.top));
    std::vector<NoiseCurve::Sample> samples(counts.size());
    NG_CHECK(parallel_for(ctx_, span.bottom - span.top, [&](int r) {
      const int y = span.top + r;
      const RowLimits limits = limits_of(plane, y, span);
      const float* sky = limits.sky.plane().row(0);
      for (const MasterStretch& stretch : stretches_) {
        const RowInputs row = inputs_of(stretch, plane, y, span);
        const auto hits = hits_of(stretch, y, span);
        const math::CombineCounts more =
            math::combine_rows(row.inputs, row.coverage_of, median_.plane().row(y - span.slot_top) + stretch.x0,
                               sky + stretch.x0, limits.slope.plane().row(0) + stretch.x0, stretch.width,
                               options_.combine, output_of(stretch, plane, y, span, hits));
        counts[static_cast<std::size_t>(r)].values += more.values;
        counts[static_cast<std::size_t>(r)].rejected += more.rejected;
        if (tells_noise(plane, y, span))
          noise_.sample({row.inputs, stretch.frames, hits, mean_.plane(plane).row(r) + stretch.x0, sky + stretch.x0,
                         stretch.x0, stretch.width},
                        samples[static_cast<std::size_t>(r)]);
      }
    }));
    NG_CHECK(parallel_for(ctx_, span.rows, [&](int i) { regrow(plane, span.y0 + i, span, counts); }));
    for (int y = span.y0; y < span.y0 + span.rows; ++y) {
      const auto r = static_cast<std::size_t>(y - span.top);
      counts_.values += counts[r].values;
      counts_.rejected += counts[r].rejected;
      if (tells_noise(plane, y, span)) noise_.add(std::move(samples[r]));
    }
    return {};
  }

  // Once more with the lower limit around hits.
  void regrow(int plane, int y, const Span& span, std::vector<math::CombineCounts>& counts) {
    const std::vector<Image<math::HitWord>> near = near_hits_of(y, span);
    std::optional<RowLimits> limits;
    for (const MasterStretch& stretch : stretches_) {
      if (std::none_of(stretch.frames.begin(), stretch.frames.end(), [&](std::size_t j) { return !near[j].empty(); }))
        continue;
      if (!limits) limits = limits_of(plane, y, span);
      const Image<math::HitWord> none(stretch.width / math::kHitPixels + 1, 1, 1, math::HitWord{0});
      std::vector<const math::HitWord*> rows;
      for (const std::size_t j : stretch.frames)
        rows.push_back(near[j].empty() ? none.plane().row(0)
                                       : near[j].plane().row(0) + (stretch.x0 - slots_[j].light.x0) / math::kHitPixels);
      const RowInputs row = inputs_of(stretch, plane, y, span);
      counts[static_cast<std::size_t>(y - span.top)].rejected +=
          math::regrow_rows(row.inputs, row.coverage_of, median_.plane().row(y - span.slot_top) + stretch.x0,
                            limits->sky.plane().row(0) + stretch.x0, limits->slope.plane().row(0) + stretch.x0,
                            stretch.width, options_.combine, rows, output_of(stretch, plane, y, span, {}));
    }
  }

  std::span<const StackFrame> frames_;
  const StackOptions& options_;
  const Context& ctx_;
  const math::LanczosPolynomials lanczos_;
  int band_ = 0;
  std::vector<float> coverage_of_;
  std::vector<math::PlaneMap> to_frame_;
  std::vector<VarianceMeshes> variance_meshes_;  // per frame
  std::vector<Region> reaches_;                  // likewise
  std::vector<Slot> slots_;                      // likewise, empty where it does not reach the band
  std::vector<MasterStretch> stretches_;         // of the band
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
  std::vector<FrameSource*> sources;
  for (const StackFrame& f : frames) sources.push_back(f.source);
  const KeptOpen kept_open(std::move(sources));
  Stack stack(frames, options, ctx);
  return stack.run(deliver, between);
}

}  // namespace ng::reduce
