// reduce/stack/align_panels.h - panels of a mosaic on one tangent plane, all at once.
//
// Frames taken with one camera in different directions are gnomonic pictures of one sky. A panel's map onto the grid is
//   p -> G(X, Y) (M (p - middle of the panel)) + middle of the grid's frame
// where M is a 2 x 2 matrix (rotation, scale, and the little shear of refraction), (X, Y) is where its middle falls,
// and G(X, Y) changes the point of tangency from there to the middle of the grid's frame: a homography that depends on
// (X, Y) and the curvature q = 1 / f^2 alone, f being the focal length in grid pixels (Hartley & Zisserman, Multiple
// View Geometry, 8.4: cameras with one centre are related by a rotation; the minimal rotation is taken, any other is in
// M). A lens that bends the panels (math/bend.h, radial about the middle, one share k for all: they come from one
// camera) is taken out first; it is believed when it takes away 2 % of what the overlaps show without it. The grid is
// then flat. All panels, q and k are fitted together to the stars that neighbours share, so that a ring of panels
// closes: robust least squares with the centroids' own errors. Overlaps are narrow: two weak priors keep what they
// cannot tell in bounds, a shear of 5e-4 (refraction at 30 degrees altitude over an hour, common practice) and, where
// it is known, the focal length. The lens has one too: k = 0 +- 0.02.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "base/result.h"
#include "frame/star_list.h"
#include "math/plane_map.h"

namespace ng::reduce {

// Stars that a panel shares with its neighbours, at least.
inline constexpr std::size_t kFewestShared = 4;

// The same star in two pictures.
struct StarPlaces {
  math::Point from, to;  // pixels of each
  double sigma_px = 0;   // expected distance per axis
};

// Unsaturated, uncut stars that lie within `tolerance_px` of each other under the map.
[[nodiscard]] std::vector<StarPlaces> common_stars(const StarList& from, const StarList& to, const math::PlaneMap& map,
                                                   double tolerance_px);

struct Panel {
  int width = 0, height = 0;
  math::PlaneMap to_grid;  // in: good to some pixels; out: fitted. The grid is that of panel 0.
};

struct PanelLink {
  int from = 0, to = 0;  // indices of panels
  std::vector<StarPlaces> stars;
};

struct PanelFit {
  std::vector<math::PlaneMap> to_grid;
  double focal_length_px = 0;  // 0: the overlaps show no bend
  double distortion = 0;       // k: share by which the lens draws the corners outwards
  double residual_px = 0;      // rms per axis of the stars in the overlaps
  double expected_px = 0;      // what the centroid errors alone would leave
};

// `focal_length_px` of the grid's frame, believed to 3 %. Errors: kNoMatch when a panel hangs on fewer than 4 stars.
[[nodiscard]] Result<PanelFit> align_panels(std::span<const Panel> panels, std::span<const PanelLink> links,
                                            std::optional<double> focal_length_px);

}  // namespace ng::reduce
