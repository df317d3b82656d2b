// app/align_light_panels.h - all panels of a mosaic fitted together; their lights follow their own reference.
#pragma once

#include <cstddef>
#include <vector>

#include "app/light_maps.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

struct PanelAlignment {
  double distortion = 0;                    // share by which the lens draws the corners outwards; 0: none was seen
  double feather_px = 0;                    // width of the border over which neighbours hand over to each other
  double residual_px = 0, expected_px = 0;  // of the stars that panels share (reduce/stack/align_panels.h)
};

// Places every light anew, on the first of `references`, those of the panels (light_panels.h). From now on the maps of
// `state` lead to the light's own reference. After settle(). Errors: those of the fit, kCancelled.
[[nodiscard]] Result<PanelAlignment> align_light_panels(LightMaps& state, const std::vector<std::size_t>& references,
                                                        const Context& ctx);

}  // namespace ng::app
