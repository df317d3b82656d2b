// measure/trails.h - straight trails of satellites and aircraft in one frame, whole, with their faint wings.
//
// The frame at half size, less its sky and without its stars, is binned, freed of slow structure and summed along all
// lines (math/line_sums.h); a line that stands out of the noise is followed at full resolution, its course fitted to
// the crests of its pieces and its cross section measured. What is long, straight and narrow in the sky itself looks
// the same: who has several frames must ask whether another shows it too.
#pragma once

#include <span>
#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/background_map.h"
#include "measure/half_size.h"

namespace ng::measure {

// An endless line: points (x, y) with normal_x x + normal_y y = distance, the normal of length 1.
struct Trail {
  double normal_x = 0, normal_y = 1, distance = 0;  // pixels
  double half_width_px = 0;                         // within which its light counts
  double peak = 0;                                  // image units, mean over its length
  double snr = 0;                                   // of its light over the whole length

  [[nodiscard]] double across(double x, double y) const { return normal_x * x + normal_y * y - distance; }
};

struct TrailOptions {
  double fwhm_px = 3;            // of the stars: a trail is hardly wider, nebulae are
  double noise_correlation = 1;  // see MeasureOptions
  double threshold = 8;          // sigma of a whole line; a million lines of pure noise reach 5
  int most = 6;                  // trails that are looked for
  int failures = 3;              // lines that turn out to be something else, after which the search ends
};

// What belongs to a star.
struct Disc {
  double x = 0, y = 0, radius = 0;  // pixels
};

// Strongest first. Errors: kCancelled.
[[nodiscard]] Result<std::vector<Trail>> find_trails(View<const float> image, const BackgroundMap& background,
                                                     const HalfSize& half, std::span<const Disc> stars,
                                                     const TrailOptions& options, const Context& ctx);

}  // namespace ng::measure
