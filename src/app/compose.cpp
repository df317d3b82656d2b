#include "app/compose.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/data_folder.h"
#include "app/field_chart.h"
#include "app/targets.h"
#include "app/workspace.h"
#include "base/angle.h"
#include "plan/candidates.h"
#include "sky/constellation.h"
#include "sky/coordinates.h"
#include "sky/moment.h"
#include "sky/sun_moon.h"

namespace ng::app {
namespace {

// Stars that throw halos and reflections into a picture; common practice, no source.
constexpr double kDazzling_mag = 4.5;
constexpr double kGuide_mag = 10;
constexpr double kChartFaintest_mag = 11;

struct Target {
  std::string title, whereabouts;
  sky::Direction place;
  std::optional<catalog::SkyObject> object;
};

Result<Target> target_of(const ComposeRequest& r, const catalog::ObjectFile& objects) {
  if (!r.target.empty()) {
    NG_TRY(catalog::SkyObject o, find_object(objects, r.target));
    return Target{title_of(o), whereabouts(objects, o), o.place, o};
  }
  if (!r.ra_deg || !r.dec_deg)
    return Error(Code::kInvalidInput, "compose needs a target: a name, or both --ra-deg and --dec-deg");
  if (!(std::fabs(*r.ra_deg) <= 360) || !(std::fabs(*r.dec_deg) <= 90))
    return Error(Code::kInvalidInput,
                 fmt::format("RA {:g}, Dec {:g} degrees are nowhere on the sky", *r.ra_deg, *r.dec_deg));
  const sky::Direction place{deg_to_rad(*r.ra_deg), deg_to_rad(*r.dec_deg)};
  return Target{fmt::format("{} {}", format_ra(*r.ra_deg), format_dec(*r.dec_deg)),
                fmt::format("in {}", sky::constellation(place).name), place, std::nullopt};
}

Result<plan::Field> field_of(const ComposeRequest& r) {
  plan::Field field;
  if (r.field_width_deg.has_value() != r.field_height_deg.has_value())
    return Error(Code::kInvalidInput, "a field needs both --field-width-deg and --field-height-deg");
  if (r.field_width_deg) {
    field.width_rad = deg_to_rad(*r.field_width_deg);
    field.height_rad = deg_to_rad(*r.field_height_deg);
  } else {
    NG_TRY(const Workspace w, open_workspace(r.workspace));
    field.width_rad = deg_to_rad(w.rig.field_width_deg());
    field.height_rad = deg_to_rad(w.rig.field_height_deg());
  }
  field.position_angle_rad = deg_to_rad(r.position_angle_deg);
  return field;
}

// Panels that hold an object that lies along the longer side of the field, as plan/candidates.h counts them. The
// catalogue knows no position angle: the person turns the field until it does.
void count_panels(const ComposeRequest& r, const Target& target, plan::Mosaic& mosaic) {
  const double major = target.object ? target.object->major_arcmin.value_or(0) / 60 : 0;
  const double minor = target.object ? target.object->minor_arcmin.value_or(60 * major) / 60 : 0;
  const bool wide = mosaic.one.width_rad >= mosaic.one.height_rad;
  const auto along = [&](double size_deg, double side_rad) {
    return plan::panels_along(size_deg, rad_to_deg(side_rad), r.overlap);
  };
  mosaic.across = r.across > 0 ? r.across : along(wide ? major : minor, mosaic.one.width_rad);
  mosaic.up = r.up > 0 ? r.up : along(wide ? minor : major, mosaic.one.height_rad);
}

// An object that the field holds only when it lies along its longer side.
bool must_lie_along(const ComposeRequest& r, const Target& target, const plan::Mosaic& mosaic) {
  if (!target.object || r.across > 0 || r.up > 0) return false;
  const double major = target.object->major_arcmin.value_or(0) / 60;
  const double shorter = rad_to_deg(std::min(mosaic.one.width_rad, mosaic.one.height_rad));
  return major > shorter && target.object->minor_arcmin.value_or(60 * major) / 60 < 0.9 * major;
}

ComposePanel panel_of(const plan::Panel& p, int number) {
  ComposePanel out;
  out.number = number;
  out.column = p.column;
  out.row = p.row;
  out.ra_deg = rad_to_deg(p.field.centre.ra_rad);
  out.dec_deg = rad_to_deg(p.field.centre.dec_rad);
  out.position_angle_deg = rad_to_deg(p.field.position_angle_rad);
  for (const sky::Direction& c : p.field.corners())
    out.corners_deg.push_back({rad_to_deg(c.ra_rad), rad_to_deg(c.dec_rad)});
  return out;
}

bool held(const std::vector<plan::Panel>& panels, sky::Direction d) {
  return std::any_of(panels.begin(), panels.end(), [&](const plan::Panel& p) { return p.field.holds(d); });
}

void look_at_stars(const std::vector<catalog::CatalogStar>& stars, const std::vector<plan::Panel>& panels,
                   sky::Direction centre, double beside_rad, ComposeReply& reply) {
  for (const catalog::CatalogStar& s : stars) {
    const sky::Direction place{s.ra_rad, s.dec_rad};
    if (s.v_mag <= kGuide_mag)
      for (std::size_t i = 0; i < panels.size(); ++i) reply.panels[i].stars += panels[i].field.holds(place);
    if (s.v_mag > kDazzling_mag) continue;
    const double distance = sky::separation_rad(centre, place);
    if (distance > beside_rad) continue;
    reply.bright_stars.push_back(
        {s.v_mag, rad_to_deg(s.ra_rad), rad_to_deg(s.dec_rad), rad_to_deg(distance), held(panels, place)});
  }
  const auto inside = static_cast<int>(std::count_if(reply.bright_stars.begin(), reply.bright_stars.end(),
                                                     [](const ComposeStar& s) { return s.inside; }));
  if (inside > 0)
    reply.notes.push_back(fmt::format("{} star{} brighter than {:g} mag in the field: halos and reflections are likely",
                                      inside, inside > 1 ? "s" : "", kDazzling_mag));
}

void look_at_objects(const catalog::ObjectFile& objects, const Target& target, const std::vector<plan::Panel>& panels,
                     double radius_rad, FieldChart& chart, ComposeReply& reply) {
  const double smallest_arcmin = rad_to_deg(chart.radius_rad) * 60 / 60;
  std::vector<catalog::SkyObject> shown;
  for (const std::uint32_t i : objects.cone(target.place, radius_rad)) {
    const double size = objects.major_arcmin(i);
    const catalog::SkyObject o = objects.object(i);
    const bool is_target = target.object && o.names == target.object->names;
    if (!is_target && size < smallest_arcmin && o.magnitude.value_or(99) > 13) continue;
    shown.push_back(o);
    if (is_target || !held(panels, o.place)) continue;
    reply.neighbours.push_back({title_of(o), std::string(catalog::kind_name(o.kind)), size, o.magnitude,
                                rad_to_deg(o.place.ra_rad), rad_to_deg(o.place.dec_rad)});
  }
  std::stable_sort(reply.neighbours.begin(), reply.neighbours.end(),
                   [](const ComposeNeighbour& a, const ComposeNeighbour& b) {
                     return a.magnitude.value_or(99) < b.magnitude.value_or(99);
                   });
  // The target's name is placed first, then the largest.
  std::stable_sort(shown.begin(), shown.end(), [&](const catalog::SkyObject& a, const catalog::SkyObject& b) {
    const auto rank = [&](const catalog::SkyObject& o) {
      return target.object && o.names == target.object->names ? 1e9 : o.major_arcmin.value_or(0);
    };
    return rank(a) > rank(b);
  });
  chart.objects = std::move(shown);
}

}  // namespace

Result<ComposeReply> compose(const ComposeRequest& request, const Context&) {
  NG_TRY(const catalog::ObjectFile objects, open_objects());
  NG_TRY(const Target target, target_of(request, objects));
  NG_TRY(const sky::Moment moment, sky::Moment::at(request.at, {}));
  NG_CHECK(
      refuse_near_sun(target.title, sky::separation_rad(moment.apparent(target.place), sky::sun(moment).apparent)));
  plan::Mosaic mosaic;
  NG_TRY(mosaic.one, field_of(request));
  mosaic.one.centre = target.place;
  // The target goes to the right when the field goes to the left.
  mosaic.one.centre = mosaic.one.at(-request.shift_right_percent / 50, -request.shift_up_percent / 50);
  mosaic.overlap = request.overlap;
  count_panels(request, target, mosaic);
  NG_TRY(const std::vector<plan::Panel> panels, plan::panels_of(mosaic));

  ComposeReply reply;
  reply.target = target.title;
  reply.whereabouts = target.whereabouts;
  reply.ra_deg = rad_to_deg(target.place.ra_rad);
  reply.dec_deg = rad_to_deg(target.place.dec_rad);
  if (target.object) reply.size_arcmin = target.object->major_arcmin;
  reply.field_width_deg = rad_to_deg(mosaic.one.width_rad);
  reply.field_height_deg = rad_to_deg(mosaic.one.height_rad);
  reply.position_angle_deg = request.position_angle_deg;
  reply.overlap = request.overlap;
  reply.across = mosaic.across;
  reply.up = mosaic.up;
  if (must_lie_along(request, target, mosaic))
    reply.notes.emplace_back(
        "this holds the object where its larger diameter runs along the longer side of the field; the catalogue knows "
        "no "
        "position angle of it: turn the field by --position-angle-deg");
  for (std::size_t i = 0; i < panels.size(); ++i) reply.panels.push_back(panel_of(panels[i], static_cast<int>(i) + 1));

  double reach = 0;
  for (const plan::Panel& p : panels)
    for (const sky::Direction& c : p.field.corners())
      reach = std::max(reach, sky::separation_rad(mosaic.one.centre, c));
  constexpr double kLargestChart = deg_to_rad(50);
  FieldChart chart;
  chart.centre = mosaic.one.centre;
  chart.radius_rad = std::min(kLargestChart, reach * 1.25);
  const double corner = std::min(kPi / 2, chart.radius_rad * 1.5);
  if (const auto path = built_in_star_catalogue(); path.ok()) {
    NG_TRY(const catalog::StarFile stars, catalog::StarFile::open(*path));
    chart.stars = stars.cone(chart.centre.ra_rad, chart.centre.dec_rad, corner, kChartFaintest_mag);
    look_at_stars(chart.stars, panels, chart.centre, reach * 1.25, reply);
  } else {
    reply.notes.emplace_back("without the star catalogue (scripts/fetch-catalogue.sh) no stars are shown or counted");
  }
  look_at_objects(objects, target, panels, corner, chart, reply);
  chart.panels = panels;
  if (!request.chart.empty()) {
    chart.title = target.title;
    chart.subtitle =
        fmt::format("{} {}, {}; {} of {:.2f} x {:.2f} degrees, position angle {:g}", format_ra(reply.ra_deg),
                    format_dec(reply.dec_deg), reply.whereabouts,
                    panels.size() > 1 ? fmt::format("{} x {} panels", mosaic.across, mosaic.up) : "a field",
                    reply.field_width_deg, reply.field_height_deg, request.position_angle_deg);
    NG_CHECK(draw_field_chart(chart, request.chart, request.overwrite));
    reply.chart = request.chart.string();
  }
  return reply;
}

}  // namespace ng::app
