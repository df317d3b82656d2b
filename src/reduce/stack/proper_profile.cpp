#include <cmath>
#include <limits>
#include <vector>

#include "reduce/stack/proper.h"
#include "reduce/stack/seen_frame.h"
#include "reduce/stack/tile_grid.h"

namespace ng::reduce {
namespace {

// The panel of the frame whose middle is nearest to that of the master.
int panel_in_middle(std::span<const StackFrame> frames, const StackOptions& options) {
  int panel = 0;
  double nearest = std::numeric_limits<double>::infinity();
  for (const StackFrame& frame : frames) {
    const FrameFacts& facts = frame.source->facts();
    const math::Point p = frame.to_master.apply({facts.width / 2.0, facts.height / 2.0});
    const double d = std::hypot(p.x - options.width / 2.0, p.y - options.height / 2.0);
    if (d >= nearest) continue;
    nearest = d;
    panel = frame.panel;
  }
  return panel;
}

}  // namespace

ProfileSize proper_profile(std::span<const StackFrame> frames, std::span<const FieldProfile> profiles,
                           const StackOptions& options) {
  const math::SquareTransform square(TileGrid::kSide);
  const Grids grids;
  TileScratch scratch(square);
  std::vector<ProfileTransform> transforms;
  for (const FieldProfile& p : profiles) transforms.emplace_back(p.beta);
  std::vector<TileFrame> in_middle;
  const int panel = panel_in_middle(frames, options);
  for (std::size_t j = 0; j < frames.size(); ++j)
    if (frames[j].panel == panel)
      in_middle.push_back(seen(frames[j], profiles[j], transforms[j], grids,
                               variance_on_master(frames[j], options.width, options.height, options.planes),
                               options.planes == 3 ? 1 : 0, {options.width / 2.0, options.height / 2.0}));
  ProperTile tile(square);
  scratch.values.fill(0);
  tile.begin(scratch.values, scratch.values, in_middle, scratch);
  return profile_size(tile.profile());
}

}  // namespace ng::reduce
