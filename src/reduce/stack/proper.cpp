#include "reduce/stack/proper.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <memory>
#include <mutex>
#include <vector>

#include "base/parallel.h"
#include "frame/background_map.h"
#include "reduce/stack/light_on_master.h"
#include "reduce/stack/mesh_on_master.h"
#include "reduce/stack/proper_tile.h"
#include "reduce/stack/tile_grid.h"

namespace ng::reduce {
namespace {

constexpr int kSide = TileGrid::kSide;

// A frame on the strip of master rows that a row of tiles covers.
struct Slot {
  Slot(int width, int planes) : rows(width, kSide, planes), information(width, kSide, planes) {}
  LightRows rows;
  Image<float> information;  // 1 / variance of each value's neighbourhood
};

// Scratch for as many hands as ask for it.
class ScratchShelf {
 public:
  explicit ScratchShelf(const math::SquareTransform& transform) : transform_(transform) {}
  std::unique_ptr<TileScratch> take() {
    {
      const std::lock_guard lock(mutex_);
      if (!free_.empty()) {
        auto scratch = std::move(free_.back());
        free_.pop_back();
        return scratch;
      }
    }
    return std::make_unique<TileScratch>(transform_);
  }
  void give_back(std::unique_ptr<TileScratch> scratch) {
    const std::lock_guard lock(mutex_);
    free_.push_back(std::move(scratch));
  }

 private:
  const math::SquareTransform& transform_;
  std::mutex mutex_;
  std::vector<std::unique_ptr<TileScratch>> free_;
};

// What the way onto the master's grid does to a frame.
struct Grids {
  GridResponse between = GridResponse::lanczos();  // its pixels' places fall between the grid's, anywhere
  GridResponse on_grid = GridResponse::plain();    // they fall on them: the reference frame

  [[nodiscard]] const GridResponse& of(const math::PlaneMap& to_master) const {
    const auto& m = to_master.plane().coefficients();
    const auto whole = [](double v) { return std::fabs(v - std::round(v)) < 1e-9; };
    return !to_master.bent() && to_master.plane().is_affine() && std::all_of(m.begin(), m.end(), whole) ? on_grid
                                                                                                        : between;
  }
};

// A frame as the tile around a place of the master sees it.
TileFrame seen(const StackFrame& frame, const FieldProfile& profile, const ProfileTransform& transform,
               const Grids& grids, const VarianceMeshes& variances, int plane, math::Point on_master) {
  const PlaneScale& scale = frame.planes[static_cast<std::size_t>(plane)];
  const math::Point in_frame = frame.to_master.inverse().apply(on_master);
  TileFrame result;
  result.transform = &transform;
  result.profile = profile.at(in_frame.x, in_frame.y);
  result.to_master = frame.to_master.linear_at(in_frame);
  result.grid = &grids.of(frame.to_master);
  const float variance = mesh_at(variances[static_cast<std::size_t>(plane)], kMasterBoxPx, on_master.x, on_master.y);
  result.information = static_cast<float>(frame.pixel_area) / variance;
  result.mean_weight = static_cast<float>(scale.weight);
  result.signal_share = static_cast<float>(scale.scale / (scale.noise * scale.noise * frame.pixel_area));
  return result;
}

class Coaddition {
 public:
  Coaddition(std::span<const StackFrame> frames, std::span<const FieldProfile> profiles, const StackOptions& options,
             FrameSource& master, const Context& ctx)
      : frames_(frames), profiles_(profiles), options_(options), master_source_(master), ctx_(ctx) {
    assert(frames.size() == profiles.size() && !frames.empty());
    const auto planes = static_cast<std::size_t>(options.planes);
    for (const StackFrame& f : frames)
      variances_.push_back(variance_on_master(f, options.width, options.height, options.planes));
    for (const FieldProfile& p : profiles) transforms_.emplace_back(p.beta);
    for (std::size_t i = 0; i < planes * static_cast<std::size_t>(columns_.count()); ++i)
      tiles_.emplace_back(transform_);
    for (auto* strip : {&master_, &sky_, &image_, &information_, &coverage_, &outliers_})
      *strip = Image<float>(options.width, kSide, options.planes, 0.0f);
    const auto slot_bytes = static_cast<std::size_t>(options.width) * kSide * planes * 3 * sizeof(float);
    const std::size_t hands = ctx.pool != nullptr ? static_cast<std::size_t>(ctx.pool->threads()) : 1;
    const std::size_t slots = std::clamp<std::size_t>(ctx.memory_budget_bytes / 2 / slot_bytes, 1, hands);
    for (std::size_t i = 0; i < std::min(slots, frames.size()); ++i) slots_.emplace_back(options.width, options.planes);
    rule_.kappa = options.combine.kappa;
    rule_.near_share = options.combine.near_share;
    rule_.slope_allowance = options.combine.slope_allowance;
    rule_.reject = frames.size() >= 3;
  }

  Result<ProperResult> run(const std::function<Result<void>(const ProperBand&)>& deliver) {
    for (int row = 0; row < rows_.count(); ++row) {
      NG_CHECK(load_master(row));
      NG_CHECK(begin_tiles(row));
      for (std::size_t first = 0; first < frames_.size(); first += slots_.size()) NG_CHECK(add_frames(row, first));
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

  // Copies a tile out of a strip whose row 0 is picture row `strip_y0`; beyond the picture the border is repeated, or
  // NaN stands.
  void cut_out(View<const float> strip, int strip_y0, int row, int column, bool repeat, Image<float>& tile) const {
    for (int y = 0; y < kSide; ++y) {
      const int wanted = TileGrid::origin(row) + y;
      const int py = std::clamp(wanted, top(row), bottom(row) - 1);
      float* out = tile.plane().row(y);
      if (py != wanted && !repeat) {
        std::fill_n(out, kSide, std::nanf(""));
        continue;
      }
      const float* in = strip.row(py - strip_y0);
      const int x0 = TileGrid::origin(column);
      const int from = std::max(0, -x0), to = std::min(kSide, options_.width - x0);
      std::copy(in + x0 + from, in + x0 + to, out + from);
      std::fill(out, out + from, repeat ? in[0] : std::nanf(""));
      std::fill(out + to, out + kSide, repeat ? in[options_.width - 1] : std::nanf(""));
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
      std::vector<TileFrame> frames;
      for (std::size_t j = 0; j < frames_.size(); ++j) frames.push_back(seen_from(j, row, at));
      auto scratch = shelf_.take();
      cut_out(master_.plane(at.plane), TileGrid::origin(row), row, at.column, true, scratch->values);
      cut_out(sky_.plane(at.plane), TileGrid::origin(row), row, at.column, true, scratch->variance);
      tiles_[static_cast<std::size_t>(t)].begin(scratch->values, scratch->variance, frames, *scratch);
      shelf_.give_back(std::move(scratch));
    });
  }

  Result<void> add_frames(int row, std::size_t first) {
    const std::size_t count = std::min(slots_.size(), frames_.size() - first);
    NG_CHECK(parallel_for(ctx_, static_cast<int>(count), [&](int i) {
      return fill(slots_[static_cast<std::size_t>(i)], first + static_cast<std::size_t>(i), row);
    }));
    std::vector<ProperResult> counts(tiles_.size());
    NG_CHECK(parallel_for(ctx_, static_cast<int>(tiles_.size()), [&](int t) {
      const Place at = place(t);
      auto scratch = shelf_.take();
      for (std::size_t i = 0; i < count; ++i) {
        const Slot& slot = slots_[i];
        cut_out(slot.rows.values.plane(at.plane), top(row), row, at.column, false, scratch->values);
        cut_out(slot.rows.variance.plane(at.plane), top(row), row, at.column, true, scratch->variance);
        tiles_[static_cast<std::size_t>(t)].add(seen_from(first + i, row, at), rule_, *scratch);
        note_fates(*scratch, slot, frames_[first + i].coverage, row, at, counts[static_cast<std::size_t>(t)]);
      }
      shelf_.give_back(std::move(scratch));
    }));
    for (const ProperResult& c : counts) {
      result_.values += c.values;
      result_.outliers += c.outliers;
    }
    return {};
  }

  Result<void> fill(Slot& slot, std::size_t j, int row) {
    const int rows = bottom(row) - top(row);
    NG_CHECK(light_on_master(frames_[j], top(row), rows, slot.rows, lanczos_, ctx_.serial()));
    predict_variance(variances_[j], top(row), rows, slot.rows.variance);
    const auto area = static_cast<float>(frames_[j].pixel_area);
    for (int p = 0; p < options_.planes; ++p) {
      for (int y = 0; y < rows; ++y) {
        float* out = slot.information.plane(p).row(y);
        mesh_row(variances_[j][static_cast<std::size_t>(p)], kMasterBoxPx, top(row) + y, options_.width, out);
        for (int x = 0; x < options_.width; ++x) out[x] = area / out[x];
      }
    }
    return {};
  }

  // What became of the frame's values, in the core of the tile, which is nobody else's.
  void note_fates(const TileScratch& scratch, const Slot& slot, float coverage, int row, Place at,
                  ProperResult& counts) {
    for (int y = TileGrid::core(row); y < rows_.core_end(row); ++y) {
      const Fate* fate = scratch.fate.plane().row(y - TileGrid::origin(row)) - TileGrid::origin(at.column);
      const float* information = slot.information.plane(at.plane).row(y - top(row));
      const int r = y - TileGrid::origin(row);
      for (int x = TileGrid::core(at.column); x < columns_.core_end(at.column); ++x) {
        if (fate[x] == Fate::kAbsent) continue;
        counts.values += 1;
        if (fate[x] == Fate::kOutlier) {
          counts.outliers += 1;
          outliers_.plane(at.plane)(x, r) += 1;
        } else {
          information_.plane(at.plane)(x, r) += information[x];
          coverage_.plane(at.plane)(x, r) += coverage;
        }
      }
    }
  }

  // Tiles side by side fade into each other; so do this row's with the last row's, which image_ already holds.
  Result<void> join_tiles(int row) {
    std::vector<Image<float>> done(tiles_.size());
    NG_CHECK(parallel_for(ctx_, static_cast<int>(tiles_.size()), [&](int t) {
      auto scratch = shelf_.take();
      done[static_cast<std::size_t>(t)] = transform_.tile();
      tiles_[static_cast<std::size_t>(t)].finish(done[static_cast<std::size_t>(t)], *scratch);
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
  std::vector<ProfileTransform> transforms_;
  std::vector<ProperTile> tiles_;  // of one row: plane after plane, from left to right
  std::vector<Slot> slots_;
  Image<float> master_, sky_;
  Image<float> image_, information_, coverage_, outliers_;
  ProperResult result_;
};

}  // namespace

ProfileSize proper_profile(std::span<const StackFrame> frames, std::span<const FieldProfile> profiles,
                           const StackOptions& options) {
  const math::SquareTransform square(kSide);
  const Grids grids;
  TileScratch scratch(square);
  std::vector<ProfileTransform> transforms;
  for (const FieldProfile& p : profiles) transforms.emplace_back(p.beta);
  std::vector<TileFrame> in_middle;
  for (std::size_t j = 0; j < frames.size(); ++j)
    in_middle.push_back(seen(frames[j], profiles[j], transforms[j], grids,
                             variance_on_master(frames[j], options.width, options.height, options.planes),
                             options.planes == 3 ? 1 : 0, {options.width / 2.0, options.height / 2.0}));
  ProperTile tile(square);
  scratch.values.fill(0);
  tile.begin(scratch.values, scratch.values, in_middle, scratch);
  return profile_size(tile.profile());
}

Result<ProperResult> coadd_properly(std::span<const StackFrame> frames, std::span<const FieldProfile> profiles,
                                    const StackOptions& options, FrameSource& master,
                                    const std::function<Result<void>(const ProperBand&)>& deliver, const Context& ctx) {
  Coaddition coaddition(frames, profiles, options, master, ctx);
  return coaddition.run(deliver);
}

}  // namespace ng::reduce
