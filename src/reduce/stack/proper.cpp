#include "reduce/stack/proper.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <vector>

#include "base/parallel.h"
#include "frame/background_map.h"
#include "reduce/stack/frame_reach.h"
#include "reduce/stack/joined_tile.h"
#include "reduce/stack/master_stretches.h"
#include "reduce/stack/mesh_on_master.h"
#include "reduce/stack/proper_tile.h"
#include "reduce/stack/scratch_shelf.h"
#include "reduce/stack/seen_frame.h"
#include "reduce/stack/strip_slot.h"
#include "reduce/stack/tile_grid.h"

namespace ng::reduce {
namespace {

constexpr int kSide = TileGrid::kSide;

class Coaddition {
 public:
  Coaddition(std::span<const StackFrame> frames, std::span<const FieldProfile> profiles, const StackOptions& options,
             FrameSource& master, const Context& ctx)
      : frames_(frames), profiles_(profiles), options_(options), master_source_(master), ctx_(ctx) {
    assert(frames.size() == profiles.size() && !frames.empty());
    const auto planes = static_cast<std::size_t>(options.planes);
    int widest = 1;
    for (const StackFrame& f : frames) {
      variances_.push_back(variance_on_master(f, options.width, options.height, options.planes));
      reaches_.push_back(reach_on_master(f, options.width, options.height));
      widest = std::max(widest, reaches_.back().width);
    }
    for (const FieldProfile& p : profiles) transforms_.emplace_back(p.beta);
    for (std::size_t i = 0; i < planes * static_cast<std::size_t>(columns_.count()); ++i)
      tiles_.emplace_back(transform_);
    for (auto* strip : {&master_, &sky_, &image_, &information_, &coverage_, &outliers_})
      *strip = Image<float>(options.width, kSide, options.planes, 0.0f);
    const auto slot_bytes = static_cast<std::size_t>(widest) * kSide * planes * 3 * sizeof(float);
    const std::size_t hands = ctx.pool != nullptr ? static_cast<std::size_t>(ctx.pool->threads()) : 1;
    const std::size_t slots = std::clamp<std::size_t>(ctx.memory_budget_bytes / 2 / slot_bytes, 1, hands);
    slots_.resize(std::min(slots, frames.size()));
    rule_.kappa = options.combine.kappa;
    rule_.near_share = options.combine.near_share;
    rule_.slope_allowance = options.combine.slope_allowance;
    rule_.reject = frames.size() >= 3;
  }

  Result<ProperResult> run(const std::function<Result<void>(const ProperBand&)>& deliver) {
    for (int row = 0; row < rows_.count(); ++row) {
      NG_CHECK(load_master(row));
      NG_CHECK(begin_tiles(row));
      const std::vector<std::size_t> here = frames_of(row);
      for (std::size_t first = 0; first < here.size(); first += slots_.size())
        NG_CHECK(add_frames(row, std::span(here).subspan(first, std::min(slots_.size(), here.size() - first))));
      NG_CHECK(join_tiles(row));
      NG_CHECK(hand_over(row, deliver));
    }
    return result_;
  }

 private:
  struct Place {  // of a tile of the current row
    int plane, column;
  };
  [[nodiscard]] Place place(int tile) const { return {tile / columns_.count(), tile % columns_.count()}; }
  [[nodiscard]] int top(int row) const { return std::max(0, TileGrid::origin(row)); }
  [[nodiscard]] int bottom(int row) const { return std::min(options_.height, TileGrid::origin(row) + kSide); }

  // The part of a tile that lies within the picture.
  [[nodiscard]] Region within_picture(int row, int column) const {
    return intersect({TileGrid::origin(column), TileGrid::origin(row), kSide, kSide},
                     {0, 0, options_.width, options_.height});
  }

  // Strips hold picture row y in their row y - TileGrid::origin(row), whether it exists or not.
  Result<void> load_master(int row) {
    for (int p = 0; p < options_.planes; ++p) {
      const int first = top(row) - TileGrid::origin(row);
      NG_CHECK(master_source_.read_rows(p, top(row), master_.plane(p).rows(first, bottom(row) - top(row))));
      const Image<float>& mesh = options_.sky[static_cast<std::size_t>(p)];
      NG_CHECK(parallel_for(ctx_, bottom(row) - top(row), [&](int r) {
        float* sky = sky_.plane(p).row(first + r);
        float* master = master_.plane(p).row(first + r);
        std::fill_n(sky, options_.width, 0.0f);
        if (!mesh.empty()) mesh_row(mesh, kMasterBoxPx, top(row) + r, options_.width, sky);
        for (int x = 0; x < options_.width; ++x)
          if (!std::isfinite(master[x])) master[x] = sky[x];
      }));
    }
    return {};
  }

  // Frames that have a value in the row of tiles, its margins left aside.
  [[nodiscard]] std::vector<std::size_t> frames_of(int row) const {
    std::vector<std::size_t> here;
    for (std::size_t j = 0; j < frames_.size(); ++j)
      if (meets_rows(reaches_[j], rows_.from(row), rows_.to(row) - rows_.from(row))) here.push_back(j);
    return here;
  }
  [[nodiscard]] bool reaches(std::size_t j, int row, int column) const {
    const Region& r = reaches_[j];
    return meets_rows(r, rows_.from(row), rows_.to(row) - rows_.from(row)) && r.x0 < columns_.to(column) &&
           r.x0 + r.width > columns_.from(column);
  }

  // Copies a tile out of a strip whose first pixel is (strip_x0, strip_y0) of the picture; beyond the strip the border
  // is repeated, or NaN stands.
  void cut_out(View<const float> strip, int strip_x0, int strip_y0, int row, int column, bool repeat,
               Image<float>& tile) const {
    for (int y = 0; y < kSide; ++y) {
      const int wanted = TileGrid::origin(row) + y;
      const int py = std::clamp(wanted, top(row), bottom(row) - 1);
      float* out = tile.plane().row(y);
      if (py != wanted && !repeat) {
        std::fill_n(out, kSide, std::nanf(""));
        continue;
      }
      const float* in = strip.row(py - strip_y0);
      const int x0 = TileGrid::origin(column) - strip_x0;
      const int from = std::clamp(-x0, 0, kSide), to = std::clamp(strip.width - x0, from, kSide);
      std::copy(in + x0 + from, in + x0 + to, out + from);
      std::fill(out, out + from, repeat ? in[0] : std::nanf(""));
      std::fill(out + to, out + kSide, repeat ? in[strip.width - 1] : std::nanf(""));
    }
  }

  [[nodiscard]] TileFrame seen_from(std::size_t j, int row, Place at) const {
    return seen(frames_[j], profiles_[j], transforms_[j], grids_, variances_[j], at.plane,
                {std::min(TileGrid::middle(at.column), options_.width - 1.0),
                 std::min(TileGrid::middle(row), options_.height - 1.0)});
  }

  Result<void> begin_tiles(int row) {
    return parallel_for(ctx_, static_cast<int>(tiles_.size()), [&](int t) {
      const Place at = place(t);
      auto scratch = shelf_.take();
      cut_out(master_.plane(at.plane), 0, TileGrid::origin(row), row, at.column, true, scratch->values);
      cut_out(sky_.plane(at.plane), 0, TileGrid::origin(row), row, at.column, true, scratch->variance);
      const std::vector<JoinedFrame> frames = frames_on(row, at);
      tiles_[static_cast<std::size_t>(t)].begin(scratch->values, scratch->variance, frames, *scratch);
      shelf_.give_back(std::move(scratch));
    });
  }

  // All frames that reach a tile. Where those are of several panels, each counts in the master by what it sees of it.
  [[nodiscard]] std::vector<JoinedFrame> frames_on(int row, Place at) const {
    std::vector<JoinedFrame> result;
    std::vector<std::size_t> which;
    for (std::size_t j = 0; j < frames_.size(); ++j) {
      if (!reaches(j, row, at.column)) continue;
      result.push_back({seen_from(j, row, at), frames_[j].panel});
      which.push_back(j);
    }
    const bool several = std::any_of(result.begin(), result.end(),
                                     [&](const JoinedFrame& f) { return f.panel != result.front().panel; });
    for (std::size_t k = 0; several && k < result.size(); ++k)
      result[k].frame.mean_weight *= static_cast<float>(share_seen(frames_[which[k]], within_picture(row, at.column)));
    return result;
  }

  Result<void> add_frames(int row, std::span<const std::size_t> which) {
    NG_CHECK(parallel_for(ctx_, static_cast<int>(which.size()), [&](int i) {
      const std::size_t j = which[static_cast<std::size_t>(i)];
      return slots_[static_cast<std::size_t>(i)].fill({frames_[j], variances_[j], reaches_[j]}, top(row),
                                                      bottom(row) - top(row), options_, lanczos_, ctx_.serial());
    }));
    std::vector<ProperResult> counts(tiles_.size());
    NG_CHECK(parallel_for(ctx_, static_cast<int>(tiles_.size()), [&](int t) {
      const Place at = place(t);
      auto scratch = shelf_.take();
      for (std::size_t i = 0; i < which.size(); ++i) {
        const std::size_t j = which[i];
        if (!reaches(j, row, at.column)) continue;
        const StripSlot& slot = slots_[i];
        const int x0 = slot.rows.x0;
        cut_out(slot.rows.values.plane(at.plane), x0, top(row), row, at.column, false, scratch->values);
        cut_out(slot.rows.variance.plane(at.plane), x0, top(row), row, at.column, true, scratch->variance);
        tiles_[static_cast<std::size_t>(t)].add({seen_from(j, row, at), frames_[j].panel}, rule_, *scratch);
        note_fates(*scratch, slot, frames_[j], row, t, counts[static_cast<std::size_t>(t)]);
      }
      shelf_.give_back(std::move(scratch));
    }));
    for (const ProperResult& c : counts) {
      result_.values += c.values;
      result_.outliers += c.outliers;
    }
    return {};
  }

  // What became of the frame's values; counted in the core of the tile, which is nobody else's.
  void note_fates(const TileScratch& scratch, const StripSlot& slot, const StackFrame& frame, int row, int t,
                  ProperResult& counts) {
    const Place at = place(t);
    JoinedTile& tile = tiles_[static_cast<std::size_t>(t)];
    const int x0 = TileGrid::origin(at.column), y0 = TileGrid::origin(row), first = slot.rows.x0;
    for (int y = rows_.from(row); y < rows_.to(row); ++y) {
      const Fate* fate = scratch.fate.plane().row(y - y0);
      const float* information = slot.information.plane(at.plane).row(y - top(row));
      const float* fade = tile.several() ? slot.fade.plane().row(y - top(row)) : nullptr;
      const bool core_row = y >= TileGrid::core(row) && y < rows_.core_end(row);
      for (int x = std::max(first, columns_.from(at.column));
           x < std::min(first + slot.information.width(), columns_.to(at.column)); ++x) {
        if (fate[x - x0] == Fate::kAbsent) continue;
        const bool kept = fate[x - x0] == Fate::kKept;
        if (kept) tile.keep(frame.panel, x - x0, y - y0, information[x - first], fade ? fade[x - first] : 1);
        if (!core_row || x < TileGrid::core(at.column) || x >= columns_.core_end(at.column)) continue;
        counts.values += 1;
        if (kept) {
          coverage_.plane(at.plane)(x, y - y0) += frame.coverage;
        } else {
          counts.outliers += 1;
          outliers_.plane(at.plane)(x, y - y0) += 1;
        }
      }
    }
  }

  // Tiles side by side fade into each other; so do this row's with the last row's, which image_ already holds.
  Result<void> join_tiles(int row) {
    std::vector<Image<float>> done(tiles_.size()), information(tiles_.size());
    NG_CHECK(parallel_for(ctx_, static_cast<int>(tiles_.size()), [&](int t) {
      auto scratch = shelf_.take();
      const auto k = static_cast<std::size_t>(t);
      done[k] = transform_.tile();
      information[k] = transform_.tile();
      tiles_[k].finish(done[k], information[k], *scratch);
      shelf_.give_back(std::move(scratch));
    }));
    return parallel_for(ctx_, rows_.to(row) - rows_.from(row), [&](int r) {
      const int y = rows_.from(row) + r;
      const int strip_y = y - TileGrid::origin(row);
      const float down = rows_.weight(row, y);
      for (std::size_t t = 0; t < tiles_.size(); ++t) {
        const Place at = place(static_cast<int>(t));
        const float* in = done[t].plane().row(strip_y) - TileGrid::origin(at.column);
        float* out = image_.plane(at.plane).row(strip_y);
        for (int x = columns_.from(at.column); x < columns_.to(at.column); ++x)
          out[x] += down * columns_.weight(at.column, x) * in[x];
        if (y < TileGrid::core(row) || y >= rows_.core_end(row)) continue;
        const int core = TileGrid::core(at.column);
        std::copy_n(information[t].plane().row(strip_y) + core - TileGrid::origin(at.column),
                    columns_.core_end(at.column) - core, information_.plane(at.plane).row(strip_y) + core);
      }
    });
  }

  Result<void> hand_over(int row, const std::function<Result<void>(const ProperBand&)>& deliver) {
    const bool last = row == rows_.count() - 1;
    const int y0 = rows_.from(row);
    const int y1 = last ? options_.height : TileGrid::core(row + 1) - TileGrid::kRamp;
    const int first = y0 - TileGrid::origin(row);
    for (int p = 0; p < options_.planes; ++p) {
      for (int r = first; r < first + y1 - y0; ++r) {
        float* image = image_.plane(p).row(r);
        float* information = information_.plane(p).row(r);
        for (int x = 0; x < options_.width; ++x) {
          if (!(information[x] > 0)) image[x] = std::nanf("");
          information[x] = information[x] > 0 ? 1 / information[x] : std::nanf("");
        }
      }
      NG_CHECK(deliver({p, y0, image_.plane(p).rows(first, y1 - y0), information_.plane(p).rows(first, y1 - y0),
                        coverage_.plane(p).rows(first, y1 - y0), outliers_.plane(p).rows(first, y1 - y0)}));
    }
    ctx_.advance(y1 - y0);
    if (!last) carry_on(y1 - TileGrid::origin(row));
    return {};
  }

  // Rows from `first` on belong to the next strip too, kStep higher up.
  void carry_on(int first) {
    for (auto* strip : {&image_, &information_, &coverage_, &outliers_}) {
      for (int p = 0; p < options_.planes; ++p) {
        const View<float> rows = strip->plane(p);
        for (int r = first; r < kSide; ++r) std::copy_n(rows.row(r), rows.width, rows.row(r - TileGrid::kStep));
        for (int r = kSide - TileGrid::kStep; r < kSide; ++r) std::fill_n(rows.row(r), rows.width, 0.0f);
      }
    }
  }

  std::span<const StackFrame> frames_;
  std::span<const FieldProfile> profiles_;
  const StackOptions& options_;
  FrameSource& master_source_;
  const Context& ctx_;
  const TileGrid columns_{options_.width};
  const TileGrid rows_{options_.height};
  const math::LanczosPolynomials lanczos_;
  const math::SquareTransform transform_{kSide};
  const Grids grids_;
  ScratchShelf shelf_{transform_};
  OutlierRule rule_;
  std::vector<VarianceMeshes> variances_;
  std::vector<Region> reaches_;
  std::vector<ProfileTransform> transforms_;
  std::vector<JoinedTile> tiles_;  // of one row: plane after plane, from left to right
  std::vector<StripSlot> slots_;
  Image<float> master_, sky_;
  Image<float> image_, information_, coverage_, outliers_;
  ProperResult result_;
};

}  // namespace

Result<ProperResult> coadd_properly(std::span<const StackFrame> frames, std::span<const FieldProfile> profiles,
                                    const StackOptions& options, FrameSource& master,
                                    const std::function<Result<void>(const ProperBand&)>& deliver, const Context& ctx) {
  Coaddition coaddition(frames, profiles, options, master, ctx);
  return coaddition.run(deliver);
}

}  // namespace ng::reduce
