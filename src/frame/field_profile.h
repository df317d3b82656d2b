// frame/field_profile.h - the shape of a frame's stars, varying over its field at low order.
//
// One concentration beta for the frame; the ellipse changes with the place: S = C^-1 of frame/profile.h, in px^2, whose
// three elements are quadratic polynomials of u = (x - x0) / size and v = (y - y0) / size. S and not C, because S adds
// up as second moments do when optics and tracking each add their part.
#pragma once

#include <array>

#include "frame/profile.h"

namespace ng {

struct FieldProfile {
  using Surface = std::array<double, 6>;  // of 1, u, v, u^2, uv, v^2

  double beta = 3.5;
  double x0 = 0, y0 = 0, size = 1;  // frame pixels
  Surface sxx{1}, sxy{}, syy{1};    // px^2

  [[nodiscard]] static FieldProfile uniform(const Profile& p) {
    const double det = p.determinant();
    FieldProfile f;
    f.beta = p.beta;
    f.sxx[0] = p.cyy / det;
    f.sxy[0] = -p.cxy / det;
    f.syy[0] = p.cxx / det;
    return f;
  }

  // Where the surfaces leave what an ellipse can be (far outside of the stars that they come from): that of the middle.
  [[nodiscard]] Profile at(double x, double y) const {
    const double u = (x - x0) / size, v = (y - y0) / size;
    const auto value = [&](const Surface& c) {
      return c[0] + c[1] * u + c[2] * v + c[3] * u * u + c[4] * u * v + c[5] * v * v;
    };
    std::array<double, 3> s{value(sxx), value(sxy), value(syy)};
    if (!(s[0] > 0 && s[0] * s[2] > 1.0001 * s[1] * s[1])) s = {sxx[0], sxy[0], syy[0]};
    const double det = s[0] * s[2] - s[1] * s[1];
    return {s[2] / det, s[0] / det, -s[1] / det, beta};
  }
};

}  // namespace ng
