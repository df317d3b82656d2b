#include "reduce/stack/seen_frame.h"

#include <algorithm>
#include <cmath>

#include "frame/background_map.h"
#include "reduce/stack/mesh_on_master.h"

namespace ng::reduce {

const GridResponse& Grids::of(const math::PlaneMap& to_master) const {
  const auto& m = to_master.plane().coefficients();
  const auto whole = [](double v) { return std::fabs(v - std::round(v)) < 1e-9; };
  return !to_master.bent() && to_master.plane().is_affine() && std::all_of(m.begin(), m.end(), whole) ? on_grid
                                                                                                      : between;
}

TileFrame seen(const StackFrame& frame, const FieldProfile& profile, const ProfileTransform& transform,
               const Grids& grids, const VarianceMeshes& variances, int plane, math::Point on_master) {
  const PlaneScale& scale = frame.planes[static_cast<std::size_t>(plane)];
  // A frame may show a part of the tile only: its profile is known on its field and little beyond.
  constexpr double kBeyond = 64;
  const FrameFacts& facts = frame.source->facts();
  math::Point in_frame = frame.to_master.inverse().apply(on_master);
  in_frame.x = std::clamp(in_frame.x, -kBeyond, facts.width - 1 + kBeyond);
  in_frame.y = std::clamp(in_frame.y, -kBeyond, facts.height - 1 + kBeyond);
  TileFrame result;
  result.transform = &transform;
  result.profile = profile.at(in_frame.x, in_frame.y);
  result.to_master = frame.to_master.linear_at(in_frame);
  result.grid = &grids.of(frame.to_master);
  const float variance =
      mesh_between(variances[static_cast<std::size_t>(plane)], kMasterBoxPx, on_master.x, on_master.y);
  result.information = static_cast<float>(frame.pixel_area) / variance;
  result.mean_weight = static_cast<float>(scale.weight);
  result.signal_share = static_cast<float>(scale.scale / (scale.noise * scale.noise * frame.pixel_area));
  return result;
}

double share_seen(const StackFrame& frame, const Region& part) {
  constexpr int kSteps = 16;
  const FrameFacts& facts = frame.source->facts();
  const math::PlaneMap to_frame = frame.to_master.inverse();
  int seen = 0;
  for (int j = 0; j < kSteps; ++j) {
    for (int i = 0; i < kSteps; ++i) {
      const math::Point p =
          to_frame.apply({part.x0 + (i + 0.5) / kSteps * part.width, part.y0 + (j + 0.5) / kSteps * part.height});
      seen += p.x >= 0 && p.y >= 0 && p.x <= facts.width - 1 && p.y <= facts.height - 1 ? 1 : 0;
    }
  }
  return std::max(seen, 1) / static_cast<double>(kSteps * kSteps);
}

}  // namespace ng::reduce
