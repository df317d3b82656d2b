#include "reduce/stack/strip_slot.h"

#include "frame/background_map.h"
#include "reduce/stack/feather.h"
#include "reduce/stack/mesh_on_master.h"
#include "reduce/stack/tile_grid.h"

namespace ng::reduce {

Result<void> StripSlot::fill(const StripFrame& f, int top, int count, const StackOptions& options,
                             const math::LanczosPolynomials& lanczos, const Context& ctx) {
  const int x0 = f.reach.x0, width = f.reach.width;
  if (rows.values.width() != width) {
    rows = LightRows(x0, width, TileGrid::kSide, options.planes);
    information = Image<float>(width, TileGrid::kSide, options.planes);
    if (options.feather_px > 0) fade = Image<float>(width, TileGrid::kSide);
  }
  rows.x0 = x0;
  NG_CHECK(light_on_master(f.frame, f.variances, {top, count}, rows, lanczos, ctx));
  const auto area = static_cast<float>(f.frame.pixel_area);
  for (int p = 0; p < options.planes; ++p) {
    for (int y = 0; y < count; ++y) {
      float* out = information.plane(p).row(y);
      mesh_row_between(f.variances[static_cast<std::size_t>(p)], kMasterBoxPx, top + y, x0, x0 + width, out);
      for (int x = 0; x < width; ++x) out[x] = area / out[x];
    }
  }
  const FrameFacts& facts = f.frame.source->facts();
  const math::PlaneMap to_frame = f.frame.to_master.inverse();
  for (int y = 0; y < count && !fade.empty(); ++y)
    feather_row({options.feather_px, facts.width, facts.height}, to_frame, x0, top + y,
                {fade.plane().row(y), static_cast<std::size_t>(width)});
  return {};
}

}  // namespace ng::reduce
