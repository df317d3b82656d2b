#include "math/bend.h"

namespace ng::math {
namespace {

double sum(const Bend::Terms& coefficients, const Bend::Terms& terms) {
  double s = 0;
  for (std::size_t k = 0; k < coefficients.size(); ++k) s += coefficients[k] * terms[k];
  return s;
}

}  // namespace

Bend Bend::radial(Point centre, double radius, double share) {
  Terms x{}, y{};
  x[6] = x[8] = share;  // X^3 + X Y^2
  y[7] = y[9] = share;  // X^2 Y + Y^3
  return {centre, radius, x, y};
}

Bend::Terms Bend::terms_at(double x, double y) {
  return {1, x, y, x * x, x * y, y * y, x * x * x, x * x * y, x * y * y, y * y * y};
}

Point Bend::bend(Point u) const {
  const Terms t = terms_at((u.x - centre_.x) / size_, (u.y - centre_.y) / size_);
  return {u.x + size_ * sum(x_, t), u.y + size_ * sum(y_, t)};
}

Affine Bend::linear_at(Point u) const {
  const double x = (u.x - centre_.x) / size_, y = (u.y - centre_.y) / size_;
  const Terms by_x{0, 1, 0, 2 * x, y, 0, 3 * x * x, 2 * x * y, y * y, 0};
  const Terms by_y{0, 0, 1, 0, x, 2 * y, 0, x * x, 2 * x * y, 3 * y * y};
  const Point p = bend(u);
  Affine t{1 + sum(x_, by_x), sum(x_, by_y), 0, sum(y_, by_x), 1 + sum(y_, by_y), 0};
  t.c = p.x - t.a * u.x - t.b * u.y;
  t.f = p.y - t.d * u.x - t.e * u.y;
  return t;
}

Point Bend::unbend(Point p) const {
  Point u = p;
  for (int round = 0; round < 20; ++round) {
    const Affine t = linear_at(u);
    const Point q = t.apply(u);
    const double dx = p.x - q.x, dy = p.y - q.y, k = 1 / t.determinant();
    const Point step{k * (t.e * dx - t.b * dy), k * (t.a * dy - t.d * dx)};
    u = {u.x + step.x, u.y + step.y};
    if (step.x * step.x + step.y * step.y < 1e-20) break;
  }
  return u;
}

}  // namespace ng::math
