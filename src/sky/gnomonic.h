// sky/gnomonic.h - sky to tangent plane and back.
//
// The gnomonic ("TAN") projection of Calabretta & Greisen 2002, A&A 395, 1077, section 5.1.3, in standard coordinates:
// xi towards east, eta towards north, both in radians at the point of contact. A camera without distortion makes
// exactly this picture; two such planes of one sky differ by a projective map.
#pragma once

#include <array>
#include <optional>

namespace ng::sky {

struct Direction {
  double ra_rad = 0;
  double dec_rad = 0;
};
struct PlanePoint {
  double xi = 0;
  double eta = 0;
};

class TangentPlane {
 public:
  explicit TangentPlane(Direction centre);
  // Nothing for a direction 90 degrees or more from the centre.
  [[nodiscard]] std::optional<PlanePoint> project(Direction d) const;
  // ra_rad in [0, 2 pi).
  [[nodiscard]] Direction direction(PlanePoint p) const;
  // Row-major 3 x 3 matrix M of the projective map from `other`'s plane to this one:
  // (xi, eta, 1) here ~ M (xi, eta, 1) there.
  [[nodiscard]] std::array<double, 9> from(const TangentPlane& other) const;

 private:
  // Rows: east, north and outward unit vectors in equatorial axes.
  std::array<std::array<double, 3>, 3> axes_{};
};

}  // namespace ng::sky
