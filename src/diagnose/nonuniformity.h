// diagnose/nonuniformity.h - how pixels differ among each other: offsets (DSNU) and sensitivities (PRNU).
//
// EMVA Standard 1288, release 4.0 linear, section 4: spatial variance of the mean of L frames, less the temporal
// variance that is left in it. DSNU = s_dark / K; PRNU = sqrt(s_50^2 - s_dark^2) / (mu_50 - mu_dark). The light of a
// flat is never even: for the PRNU both images have the mean of the 7 x 7 pixels of the same colour around each pixel
// taken off, and the variance is divided by 1 - 1/49, which is what that takes from white noise. Defective pixels,
// beyond 6 standard deviations, are left out: they are counted apart (pixel_defects.h).
#pragma once

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "diagnose/measured.h"

namespace ng::diagnose {

struct SpatialVariance {
  double mean = 0;
  double total = 0;                          // ADU^2
  double columns = 0, rows = 0, pixels = 0;  // its parts
  double count = 0;                          // pixels used
};
// Of a whole image, as it stands. Parts: variance of column means less what single pixels leave in them, rows likewise.
[[nodiscard]] Result<SpatialVariance> spatial_variance(View<const float> image, const Context& ctx);

struct LocalVariance {
  double mean = 0;
  double variance = 0, error = 0;
};
// Median over blocks of 32 x 32, so that edges of dust shadows do not count: of pixels against those around them, in
// one cell of a mosaic (0 to 3, pair_noise.h), or everywhere (step 1, cell 0).
[[nodiscard]] Result<LocalVariance> local_variance(View<const float> image, int step, int cell, const Context& ctx);

// Share of the signal. Variances are those of single pixels, temporal noise already off; 0 where nothing is left.
[[nodiscard]] double prnu_share(double variance_50_adu2, double variance_dark_adu2, double level_50_adu,
                                double level_dark_adu);
// Electrons.
[[nodiscard]] double dsnu_e(double variance_dark_adu2, double gain_e_adu);

}  // namespace ng::diagnose
