#include "finish/objects_on_frame.h"

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "math/vec3.h"

namespace ng::finish {
namespace {

constexpr int kOutlinePoints = 180;

bool inside(math::Point p, int width, int height) {
  return p.x >= -0.5 && p.y >= -0.5 && p.x <= width - 0.5 && p.y <= height - 0.5;
}

}  // namespace

std::vector<math::Point> sky_circle(const Wcs& wcs, SkyPlace centre, double radius_rad) {
  const math::Vec3 z = math::from_angles(centre.ra_rad, centre.dec_rad);
  const math::Vec3 east{-std::sin(centre.ra_rad), std::cos(centre.ra_rad), 0}, north = math::cross(z, east);
  std::vector<math::Point> points;
  for (int k = 0; k < kOutlinePoints; ++k) {
    const double angle = 2 * kPi * k / kOutlinePoints, c = std::cos(angle), s = std::sin(angle);
    math::Vec3 v{};
    for (std::size_t i = 0; i < 3; ++i)
      v[i] = std::cos(radius_rad) * z[i] + std::sin(radius_rad) * (c * north[i] + s * east[i]);
    const math::Angles at = math::to_angles(v);
    if (const auto p = wcs.pixel_of({at.longitude_rad, at.latitude_rad})) points.push_back(*p);
  }
  return points;
}

std::vector<ObjectOnFrame> objects_on_frame(const Wcs& wcs, int width, int height,
                                            std::span<const catalog::SkyObject> objects) {
  std::vector<ObjectOnFrame> list;
  for (std::size_t i = 0; i < objects.size(); ++i) {
    const catalog::SkyObject& object = objects[i];
    const SkyPlace place{object.place.ra_rad, object.place.dec_rad};
    const auto at = wcs.pixel_of(place);
    if (!at) continue;
    ObjectOnFrame o{i, *at, 0, true, {}};
    if (object.major_arcmin && *object.major_arcmin > 0) {
      o.outline = sky_circle(wcs, place, deg_to_rad(*object.major_arcmin / 120));
      o.round = !object.minor_arcmin || *object.minor_arcmin > 0.95 * *object.major_arcmin;
      for (const math::Point p : o.outline)
        o.radius_px += std::hypot(p.x - at->x, p.y - at->y) / static_cast<double>(o.outline.size());
    }
    const bool seen = inside(*at, width, height) || std::any_of(o.outline.begin(), o.outline.end(), [&](math::Point p) {
                        return inside(p, width, height);
                      });
    if (seen) list.push_back(std::move(o));
  }
  std::stable_sort(list.begin(), list.end(), [](const auto& a, const auto& b) { return a.radius_px > b.radius_px; });
  return list;
}

}  // namespace ng::finish
