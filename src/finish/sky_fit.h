// finish/sky_fit.h - which parts of the field are sky, and the smooth surface through them.
//
// Stars, nebulae and galaxies only ever add light. The field is divided into boxes with a robust level each; a surface
// is first laid under nine tenths of them (a regression quantile: Koenker & Bassett 1978, Econometrica 46, 33), then
// fitted to the boxes that lie no higher above it than the scatter between neighbouring boxes explains, again and again
// until the choice no longer changes. A box beside a rejected one is not trusted either: a nebula has no sharp edge. A
// box is sky only if it is so in every channel, because nebulae differ in colour.
//
// The degree is kept low: a plane, unless a curved surface finds clearly more sky. What is subtracted can then follow
// light pollution, moonlight and residual vignetting, but not a nebula, even one that fills half of the field
// (sky_fit_test.cpp). A nebula that fills all of it cannot be told from sky by anyone: its darkest parts become black,
// and the fit is flagged.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "finish/sky_surface.h"

namespace ng::finish {

struct SkyMesh {
  int width = 0;  // of the image
  int height = 0;
  int box_px = 0;
  Image<float> level;  // robust level of each box

  [[nodiscard]] double centre_x(int column) const;
  [[nodiscard]] double centre_y(int row) const;
};

// Boxes of box_px; 0 = a sixtieth of the longer side, at least 16. No NaN in the image. Errors: kCancelled.
[[nodiscard]] Result<SkyMesh> sky_mesh(View<const float> image, int box_px, const Context& ctx);

struct SkyFit {
  std::vector<SkySurface> surfaces;  // one per channel
  std::vector<double> scatter;       // of the sky boxes around the surface, one per channel
  Image<std::uint8_t> is_sky;        // one per box
  double sky_share = 0;              // of the boxes
  bool doubtful = false;             // too little of the field is sky (below 5 %), or a side of it has none
};

// All meshes have one shape. `degree` < 0 chooses 1 or 2. Errors: kTooFew (fewer boxes than terms).
[[nodiscard]] Result<SkyFit> fit_sky(std::span<const SkyMesh> channels, int degree);

}  // namespace ng::finish
