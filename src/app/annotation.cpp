#include "app/annotation.h"

#include <algorithm>
#include <cmath>

#include "app/data_folder.h"
#include "app/targets.h"
#include "base/angle.h"
#include "catalog/star_names.h"
#include "finish/frame_grid.h"
#include "finish/objects_on_frame.h"

namespace ng::app {
namespace {

constexpr double kReachRad = 0.09;         // half of the largest object of the catalogue, 10 degrees
constexpr std::size_t kMostObjects = 120;  // more cover the picture
constexpr std::size_t kMostStars = 60;
constexpr double kSmallestShare = 0.004;  // of the frame's diagonal: what is smaller and faint is a dot
constexpr double kFaint = 13;

PixelLine pixel_line(const std::vector<math::Point>& points) {
  PixelLine line;
  for (const math::Point p : points) line.push_back({p.x, p.y});
  return line;
}

std::vector<catalog::SkyObject> candidates(const catalog::ObjectFile& objects, const Wcs& wcs, int width, int height) {
  const SkyPlace middle = wcs.sky_of({(width - 1) / 2.0, (height - 1) / 2.0});
  const double half = std::atan(wcs.scale_rad() * std::hypot(width, height) / 2);
  const double smallest_arcmin = rad_to_deg(half) * 2 * kSmallestShare * 60;
  std::vector<catalog::SkyObject> list;
  for (const std::uint32_t i : objects.cone({middle.ra_rad, middle.dec_rad}, half + kReachRad)) {
    catalog::SkyObject o = objects.object(i);
    if (objects.major_arcmin(i) < smallest_arcmin && o.magnitude.value_or(99) > kFaint) continue;
    list.push_back(std::move(o));
  }
  return list;
}

Result<std::vector<AnnotatedStar>> named_stars(const Wcs& wcs, int width, int height) {
  std::vector<AnnotatedStar> stars;
  const auto path = built_in_star_names();
  if (!path.ok()) return stars;
  NG_TRY(const std::vector<catalog::NamedStar> all, catalog::read_star_names(*path));
  for (const catalog::NamedStar& star : all) {
    const auto at = wcs.pixel_of({star.place.ra_rad, star.place.dec_rad});
    if (!at || at->x < -0.5 || at->y < -0.5 || at->x > width - 0.5 || at->y > height - 0.5) continue;
    if (stars.size() == kMostStars) break;
    stars.push_back(
        {star.name, rad_to_deg(star.place.ra_rad), rad_to_deg(star.place.dec_rad), star.v_mag, at->x, at->y});
  }
  return stars;
}

}  // namespace

Result<FrameAnnotation> annotate(const Wcs& wcs, int width, int height) {
  NG_TRY(const catalog::ObjectFile file, open_objects());
  const std::vector<catalog::SkyObject> near = candidates(file, wcs, width, height);
  FrameAnnotation a;
  for (const finish::ObjectOnFrame& o : finish::objects_on_frame(wcs, width, height, near)) {
    if (a.objects.size() == kMostObjects) {
      ++a.objects_left_out;
      continue;
    }
    const catalog::SkyObject& object = near[o.object];
    AnnotatedObject out;
    out.name = title_of(object);
    out.kind = catalog::kind_name(object.kind);
    out.ra_deg = rad_to_deg(object.place.ra_rad);
    out.dec_deg = rad_to_deg(object.place.dec_rad);
    out.magnitude = object.magnitude;
    out.major_arcmin = object.major_arcmin;
    out.minor_arcmin = object.minor_arcmin;
    out.x = o.at.x;
    out.y = o.at.y;
    out.radius_px = o.radius_px;
    out.round = o.round;
    out.outline = pixel_line(o.outline);
    a.objects.push_back(std::move(out));
  }
  NG_TRY(a.stars, named_stars(wcs, width, height));
  const finish::FrameGrid grid = finish::frame_grid(wcs, width, height);
  for (const finish::GridLine& line : grid.lines) {
    AnnotatedLine out{line.meridian ? "ra" : "dec", line.value_deg, line.label, {}};
    for (const auto& piece : line.pieces) out.pieces.push_back(pixel_line(piece));
    a.grid.push_back(std::move(out));
  }
  a.scale_bar_arcsec = grid.scale.length_rad * kArcsecPerRadian;
  a.scale_bar_px = grid.scale.length_px;
  a.scale_bar_label = grid.scale.label;
  a.north = {grid.directions.north.x, grid.directions.north.y};
  a.east = {grid.directions.east.x, grid.directions.east.y};
  return a;
}

}  // namespace ng::app
