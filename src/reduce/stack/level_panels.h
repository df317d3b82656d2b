// reduce/stack/level_panels.h - panels of a mosaic on one scale and one sky, by what neighbours show of the same
// places.
//
// Scale: log flux ratios of common stars, all overlaps solved together by weighted least squares. Sky: the background
// maps of two neighbours show the same nebula in their overlap, so their difference is that of the skies alone. Each
// panel but the first gets a plane, c + gx u + gy v, such that all differences vanish as nearly as they can (robust
// least squares). A plane and no more: an overlap is a narrow strip, and what is fitted there is carried across the
// panel.
#pragma once

#include <span>
#include <vector>

#include "reduce/stack/normalise.h"

namespace ng::reduce {

struct PanelRatio {
  int from = 0, to = 0;
  FluxScale flux;  // in `from` over in `to`, of the same stars
};

// Scale of each panel relative to panel 0; 1 where no star links it to the others.
[[nodiscard]] std::vector<double> panel_scales(int panels, std::span<const PanelRatio> ratios);

// Levels of bare background of two panels at one place of the master, both on the common scale, per master pixel.
struct PanelSample {
  int from = 0, to = 0;
  double x = 0, y = 0;
  double level_from = 0, level_to = 0;
};

// Where both of two panels' maps lie, on a grid of some 1200 places over the first; none where the overlap is narrower
// than a box of the maps.
void sample_overlap(int from, const SkyOnMaster& a, int to, const SkyOnMaster& b, std::vector<PanelSample>& samples);

// What is to be subtracted from each panel. `size` is that of a panel on the master.
[[nodiscard]] std::vector<SkySurface> panel_skies(int panels, std::span<const PanelSample> samples, double size);

// a + b as one surface.
[[nodiscard]] SkySurface sum(const SkySurface& a, const SkySurface& b);
[[nodiscard]] SkySurface scaled(SkySurface surface, double factor);

}  // namespace ng::reduce
