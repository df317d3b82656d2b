#include "plan/panels.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "sky/coordinates.h"

namespace ng::plan {
namespace {

using Vector = std::array<double, 3>;

Vector vector_of(sky::Direction d) {
  const double c = std::cos(d.dec_rad);
  return {c * std::cos(d.ra_rad), c * std::sin(d.ra_rad), std::sin(d.dec_rad)};
}
sky::Direction direction_of(const Vector& v) {
  const double ra = std::atan2(v[1], v[0]);
  return {ra < 0 ? ra + 2 * kPi : ra, std::atan2(v[2], std::hypot(v[0], v[1]))};
}

// The axes of a picture: outwards, to the right, upwards.
struct Axes {
  Vector out, right, up;
};
Axes axes_of(const Field& f) {
  const double ca = std::cos(f.centre.ra_rad), sa = std::sin(f.centre.ra_rad);
  const double cd = std::cos(f.centre.dec_rad), sd = std::sin(f.centre.dec_rad);
  const Vector east{-sa, ca, 0}, north{-sd * ca, -sd * sa, cd};
  const double c = std::cos(f.position_angle_rad), s = std::sin(f.position_angle_rad);
  Axes a;
  a.out = {cd * ca, cd * sa, sd};
  for (int i = 0; i < 3; ++i) {
    a.right[i] = -c * east[i] + s * north[i];
    a.up[i] = s * east[i] + c * north[i];
  }
  return a;
}

}  // namespace

sky::Direction Field::at(double x, double y) const {
  const Axes a = axes_of(*this);
  const double to_right = x * std::tan(width_rad / 2), upwards = y * std::tan(height_rad / 2);
  Vector v{};
  for (int i = 0; i < 3; ++i) v[i] = a.out[i] + to_right * a.right[i] + upwards * a.up[i];
  return direction_of(v);
}

std::array<sky::Direction, 4> Field::corners() const {
  return {at(-1, 1), at(1, 1), at(1, -1), at(-1, -1)};
}

bool Field::holds(sky::Direction d) const {
  const Axes a = axes_of(*this);
  const Vector v = vector_of(d);
  const auto along = [&](const Vector& axis) { return v[0] * axis[0] + v[1] * axis[1] + v[2] * axis[2]; };
  const double out = along(a.out);
  return out > 0 && std::fabs(along(a.right)) <= out * std::tan(width_rad / 2) &&
         std::fabs(along(a.up)) <= out * std::tan(height_rad / 2);
}

Result<std::vector<Panel>> panels_of(const Mosaic& m) {
  const double largest = deg_to_rad(60);
  if (!(m.one.width_rad > 0 && m.one.height_rad > 0 && m.one.width_rad <= largest && m.one.height_rad <= largest))
    return Error(Code::kInvalidInput, fmt::format("a field of {:g} x {:g} degrees does not suit; each side goes to 60",
                                                  rad_to_deg(m.one.width_rad), rad_to_deg(m.one.height_rad)));
  if (!(m.overlap >= 0 && m.overlap < 0.9))
    return Error(Code::kInvalidInput, fmt::format("an overlap of {:g} is not between 0 and 0.9", m.overlap));
  if (m.across < 1 || m.up < 1 || m.across * m.up > 400)
    return Error(Code::kInvalidInput, fmt::format("{} x {} panels do not suit; take 1 to 400", m.across, m.up));
  const double step_right = m.one.width_rad * (1 - m.overlap), step_up = m.one.height_rad * (1 - m.overlap);
  if (step_right * m.across > kPi || step_up * m.up > kPi / 2)
    return Error(Code::kInvalidInput,
                 fmt::format("{} x {} panels would go around the sky; take fewer", m.across, m.up));

  const Axes a = axes_of(m.one);
  std::vector<Panel> panels;
  for (int row = 1; row <= m.up; ++row)
    for (int column = 1; column <= m.across; ++column) {
      const double right = (column - (m.across + 1) / 2.0) * step_right, up = ((m.up + 1) / 2.0 - row) * step_up;
      Vector centre{};
      for (int i = 0; i < 3; ++i)
        centre[i] = std::cos(up) * (std::cos(right) * a.out[i] + std::sin(right) * a.right[i]) + std::sin(up) * a.up[i];
      Panel p{column, row, m.one};
      p.field.centre = direction_of(centre);
      p.field.position_angle_rad = sky::position_angle_rad(p.field.centre, direction_of(a.up));
      panels.push_back(p);
    }
  const auto east = [&](const Panel& p) {
    return std::remainder(p.field.centre.ra_rad - m.one.centre.ra_rad, 2 * kPi);
  };
  std::stable_sort(panels.begin(), panels.end(),
                   [&](const Panel& x, const Panel& y) { return east(x) < east(y) - 1e-9; });
  return panels;
}

}  // namespace ng::plan
