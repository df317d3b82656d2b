#include "reduce/stack/integrate.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "base/parallel.h"
#include "frame/background_map.h"
#include "reduce/stack/band_slots.h"
#include "reduce/stack/master_stretches.h"
#include "reduce/stack/mesh_on_master.h"
#include "reduce/stack/slope.h"

namespace ng::reduce {
namespace {

class Stack {
 public:
  Stack(std::span<const StackFrame> frames, const StackOptions& options, const Context& ctx)
      : frames_(frames),
        options_(options),
        ctx_(ctx),
        slots_(frames, options, ctx),
        noise_(static_cast<int>(frames.size())) {
    for (const StackFrame& f : frames) coverage_of_.push_back(f.coverage);
    const int band = slots_.tallest_band();
    median_ = Image<float>(options.width, band + BandRows::kSpare);
    for (auto* image : {&mean_, &variance_, &coverage_, &rejected_})
      *image = Image<float>(options.width, band + BandRows::kSpareCombined, options.planes);
  }

  Result<StackCounts> run(const std::function<Result<void>(const StackBand&)>& deliver,
                          const std::function<Result<void>()>& between) {
    BandRows done;  // the band that is ready but not delivered
    const auto deliver_done = [&]() -> Result<void> {
      const int first = done.y0 - done.top;
      for (int p = 0; p < options_.planes && done.rows > 0; ++p)
        NG_CHECK(deliver({p, done.y0, mean_.plane(p).rows(first, done.rows), variance_.plane(p).rows(first, done.rows),
                          coverage_.plane(p).rows(first, done.rows), rejected_.plane(p).rows(first, done.rows)}));
      return {};
    };
    for (int y0 = 0; y0 < options_.height; y0 += slots_.tallest_band()) {
      const BandRows span = band_rows(y0, slots_.tallest_band(), options_.height);
      stretches_ = stretches_of(slots_.reaches(), span.slot_top, span.slot_rows, options_.width);
      const std::vector<std::size_t> here = slots_.take(span);
      // One hand delivers the last band while the others fill the next.
      NG_CHECK(parallel_for(ctx_, static_cast<int>(here.size()) + 1, [&](int k) {
        return k == 0 ? deliver_done() : slots_.fill(here[static_cast<std::size_t>(k - 1)], span);
      }));
      for (int plane = 0; plane < options_.planes; ++plane) NG_CHECK(combine(plane, span));
      done = span;
      ctx_.advance(span.rows);
      if (between) NG_CHECK(between());
    }
    NG_CHECK(deliver_done());
    if (between) NG_CHECK(between());
    counts_.noise = noise_.points();
    counts_.noise_correlation = slots_.noise_correlation();
    return counts_;
  }

 private:
  // Sky and allowed slope along one row of the master.
  struct RowLimits {
    Image<float> sky, slope;
  };
  [[nodiscard]] RowLimits limits_of(int plane, int y, const BandRows& span) const {
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
  [[nodiscard]] RowInputs inputs_of(const MasterStretch& stretch, int plane, int y, const BandRows& span) const {
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
  [[nodiscard]] math::CombineOutput output_of(const MasterStretch& stretch, int plane, int y, const BandRows& span,
                                              std::span<math::HitWord* const> hits) {
    const int r = y - span.top;
    return {mean_.plane(plane).row(r) + stretch.x0, variance_.plane(plane).row(r) + stretch.x0,
            coverage_.plane(plane).row(r) + stretch.x0, rejected_.plane(plane).row(r) + stretch.x0, hits};
  }

  [[nodiscard]] std::vector<math::HitWord*> hits_of(const MasterStretch& stretch, int y, const BandRows& span) {
    std::vector<math::HitWord*> rows;
    for (const std::size_t j : stretch.frames)
      rows.push_back(slots_[j].hits.plane().row(y - span.top) + (stretch.x0 - slots_[j].light.x0) / math::kHitPixels);
    return rows;
  }

  // Hits around those of row y, of all frames that have any.
  [[nodiscard]] std::vector<Image<math::HitWord>> near_hits_of(int y, const BandRows& span) {
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

  Result<void> combine(int plane, const BandRows& span) {
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
        if (y >= span.y0 && y < span.y0 + span.rows && tells_noise(options_, plane, y))
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
      if (tells_noise(options_, plane, y)) noise_.add(std::move(samples[r]));
    }
    return {};
  }

  // Once more with the lower limit around hits.
  void regrow(int plane, int y, const BandRows& span, std::vector<math::CombineCounts>& counts) {
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
  BandSlots slots_;
  std::vector<float> coverage_of_;        // per frame
  std::vector<MasterStretch> stretches_;  // of the band
  Image<float> median_, mean_, variance_, coverage_, rejected_;
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
