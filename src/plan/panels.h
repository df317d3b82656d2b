// plan/panels.h - the field on the sky, and many of them over something larger.
//
// A position angle says where the upper side of the picture points: from north through east. A mosaic is laid along two
// great circles through its centre; away from the middle its rows come closer, so panels overlap by the wanted share at
// least, and nothing is left between them.
#pragma once

#include <array>
#include <vector>

#include "base/result.h"
#include "sky/gnomonic.h"

namespace ng::plan {

struct Field {
  sky::Direction centre;  // ICRS
  double position_angle_rad = 0;
  double width_rad = 0, height_rad = 0;

  // Upper left, upper right, lower right, lower left as the picture shows them (north up, east to the left at 0).
  [[nodiscard]] std::array<sky::Direction, 4> corners() const;
  [[nodiscard]] bool holds(sky::Direction d) const;
  // A place in the picture: x from the centre to the right and y upwards, in halves of its width and height.
  [[nodiscard]] sky::Direction at(double x, double y) const;
};

struct Mosaic {
  Field one;  // centre of the whole; size and position angle of one panel
  int across = 1, up = 1;
  double overlap = 0.15;  // share of a panel
};

struct Panel {
  int column = 1, row = 1;  // from the left, from the top
  Field field;
};

// In the order in which they culminate, west first; panels of one right ascension from the top down.
// Errors: kInvalidInput (a field that is empty or larger than 60 degrees, no panels or more than 400, an overlap not in
// [0, 0.9), a mosaic that goes more than half around the sky).
[[nodiscard]] Result<std::vector<Panel>> panels_of(const Mosaic& mosaic);

}  // namespace ng::plan
