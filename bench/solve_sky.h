// bench/solve_sky.h - an invented all-sky catalogue as dense as a published one, and frames of it as star lists.
#pragma once

#include <cstdint>
#include <vector>

#include "astrometry/field.h"
#include "astrometry/pose.h"
#include "catalog/sky_file.h"

namespace ng::bench {

// `stars` stars placed at random with the density of Tycho-2 (Hog et al. 2000, A&A 355, L27: 150, 50 and 25 stars a
// square degree at galactic latitude 0, 30 and 90; log-linear in sin|b| between). Numbers rise by 10^0.47 a magnitude
// (common practice, no source); the catalogue holds 97 per cent of the stars up to V 11.0 and fewer beyond, none from
// V 12.5 on.
[[nodiscard]] std::vector<catalog::SkyEntry> invented_sky(std::size_t stars, std::uint64_t seed);

struct FrameWishes {
  double low_width_deg = 0.7, high_width_deg = 20;
  std::size_t fewest_catalogue_stars = 12, most_catalogue_stars = 100000;
};
struct InventedFrame {
  astrometry::Field field;
  astrometry::Pose truth;           // of the middle; the distortion adds to it
  double distortion = 0;            // displacement at the corners as a share of their distance from the middle
  std::size_t catalogue_stars = 0;  // among those seen
  double width_deg = 0;
};
// A frame somewhere on the sky: any direction, rotation and parity; width log-uniform; 1500 to 6000 pixels wide, 3 : 2.
// Distortion up to 0.5 per cent, centroid errors of 0.1 to 0.5 px, brightness in another band (0.3 mag), the stars that
// the catalogue lacks, 4 per cent of stars lost, a cloud over half of a third of the frames, up to 12 hot pixels and a
// trail of up to 8 pieces among the brighter detections.
[[nodiscard]] InventedFrame invented_frame(const catalog::SkyFile& sky, const FrameWishes& wishes, std::uint64_t seed,
                                           std::uint64_t number);
// As many points as such a frame has stars, anywhere.
[[nodiscard]] InventedFrame random_points(std::uint64_t seed, std::uint64_t number);

}  // namespace ng::bench
