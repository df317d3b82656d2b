// reduce/stack/proper.h - proper coaddition of a whole night, row of tiles by row of tiles.
//
// What one tile does stands in proper_tile.h. Here the frames are read again, resampled as the ordinary master's were
// (light_on_master.h), and handed to those tiles of one row that they reach, frame after frame: memory does not grow
// with their number, only with the picture's width (about 10 strips of TileGrid::kSide rows for each plane and hand,
// and 6.5 MB per tile of a row and panel that reaches it). Panels of a mosaic are coadded each by itself and joined
// (joined_tile.h). Profiles, noise and maps are those of each tile's middle. The result has the same bits for any
// number of threads and any memory budget: every tile sums its frames in their order.
#pragma once

#include <functional>
#include <span>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/field_profile.h"
#include "frame/source.h"
#include "reduce/stack/integrate.h"
#include "reduce/stack/spectrum_profile.h"

namespace ng::reduce {

// Rows y0 ... of one plane. NaN in `image` and `variance` where no frame has a value.
struct ProperBand {
  int plane = 0;
  int y0 = 0;
  View<const float> image;
  View<const float> variance;  // of the white noise of one pixel of bare sky
  View<const float> coverage;  // sum of StackFrame::coverage over the frames that have a value of their own
  View<const float> outliers;  // number of values replaced
};

struct ProperResult {
  double values = 0;  // offered, over all pixels
  double outliers = 0;
};

// Of the profile P_R in the middle of the master, of the panel nearest to it, in the first plane (the second, where
// there are three), pixels included: a faint star's flux is known to sqrt(variance x noise_area_px).
[[nodiscard]] ProfileSize proper_profile(std::span<const StackFrame> frames, std::span<const FieldProfile> profiles,
                                         const StackOptions& options);

// `master`: the ordinary master of the same frames with the same options. `profiles`: one per frame. `deliver` gets the
// bands from top to bottom, plane after plane. Errors: those of reading and of `deliver`, kCancelled.
[[nodiscard]] Result<ProperResult> coadd_properly(std::span<const StackFrame> frames,
                                                  std::span<const FieldProfile> profiles, const StackOptions& options,
                                                  FrameSource& master,
                                                  const std::function<Result<void>(const ProperBand&)>& deliver,
                                                  const Context& ctx);

}  // namespace ng::reduce
