#include "app/pole.h"

#include <fmt/format.h>

#include <cmath>

#include "app/solve.h"
#include "app/wcs_cards.h"
#include "app/workspace.h"
#include "base/angle.h"
#include "diagnose/pole.h"
#include "io/byte_source.h"
#include "io/fits_layout.h"
#include "io/open_frame.h"

namespace ng::app {
namespace {

using diagnose::PolarAxis;

// A frame on the ground: its attitude, and what else the reply needs of it.
struct Placed {
  diagnose::Attitude attitude;
  double scale_rad = 0, half_diagonal_px = 0, dec_rad = 0;
  Instant middle;
};

struct Setting {
  sky::Site site;
  sky::Air air;
};

double standard_pressure_hpa(double elevation_m) {
  return 1013.25 * std::pow(1 - 2.25577e-5 * elevation_m, 5.25588);  // ISO 2533:1975, standard atmosphere
}

Result<Setting> setting_of(const PoleRequest& r, const FrameFacts& facts, PoleReply& reply) {
  auto lat = r.lat_deg, lon = r.lon_deg, elevation = r.elevation_m, pressure = r.pressure_hpa;
  if (!lat || !lon) {
    auto workspace = open_workspace(r.workspace);
    if (workspace.ok()) {
      const rig::ObservingSite& site = workspace->site;
      lat = site.latitude_deg;
      lon = site.longitude_deg;
      if (!elevation) elevation = site.elevation_m;
      if (!pressure) pressure = site.air_pressure_hpa();
      if (facts.site_latitude_deg && std::fabs(*facts.site_latitude_deg - *lat) > 0.5)
        reply.notes.push_back(
            fmt::format("the file was taken at latitude {:.2f}, the site of the workspace lies at "
                        "{:.2f}: the workspace is believed",
                        *facts.site_latitude_deg, *lat));
    } else if (r.workspace || workspace.error().code() != Code::kNotFound) {
      return std::move(workspace).error();
    } else {
      lat = facts.site_latitude_deg;
      lon = facts.site_longitude_deg;
      if (!elevation) elevation = facts.site_elevation_m;
    }
  }
  if (!lat || !lon)
    return Error(
        Code::kInvalidInput,
        "where does the telescope stand? Neither a workspace nor the file says: give --lat-deg and --lon-deg (east "
        "positive)");
  if (!(std::fabs(*lat) <= 90 && std::fabs(*lon) <= 360))
    return Error(Code::kInvalidInput, "the site lies nowhere on the Earth: latitude -90 to 90, longitude -360 to 360");
  if (std::fabs(*lat) > 88)
    return Error(Code::kInvalidInput,
                 "this close to a pole of the Earth azimuth means nothing: point the axis upwards");
  Setting s;
  s.site = {deg_to_rad(*lat), deg_to_rad(*lon), elevation.value_or(0)};
  s.air.pressure_hpa = pressure.value_or(standard_pressure_hpa(s.site.elevation_m));
  s.air.temperature_c = r.temperature_c;
  reply.latitude_deg = *lat;
  reply.longitude_deg = *lon;
  reply.pressure_hpa = s.air.pressure_hpa;
  return s;
}

Result<Wcs> header_solution(const std::filesystem::path& file) {
  NG_TRY(auto bytes, io::open_bytes(file));
  NG_TRY(const io::FitsLayout layout, io::read_fits_layout(*bytes).in(file.string()));
  const auto wcs = wcs_of_cards(layout.cards);
  if (!wcs)
    return Error(Code::kNoMatch, file.string() + ": the header carries no solution (TAN) that could be trusted");
  return *wcs;
}

// The solution by the stars, or the header's; the latter without errors of its own: a third of a pixel is assumed.
Result<std::pair<Wcs, diagnose::SolutionErrors>> solution_of(const std::filesystem::path& file, const PoleRequest& r,
                                                             const FrameFacts& facts, const Context& ctx) {
  const double half = std::hypot(facts.width, facts.height) / 2;
  if (r.trust_header) {
    NG_TRY(const Wcs wcs, header_solution(file));
    return std::pair(wcs, diagnose::SolutionErrors{wcs.scale_rad() / 3, 1 / (3 * half)});
  }
  SolveRequest request;
  request.file = file;
  request.catalogues = r.catalogues;
  request.workspace = r.workspace;
  request.photometry = false;
  NG_TRY(const SolveReply solved, solve(request, ctx));
  if (!solved.solved) return Error(Code::kNoMatch, file.string() + ": " + solved.reason);
  return std::pair(solved.solution, diagnose::SolutionErrors{*solved.centre_error_arcsec / kArcsecPerRadian,
                                                             deg_to_rad(*solved.rotation_error_deg)});
}

Result<FrameFacts> facts_of(const std::filesystem::path& file) {
  NG_TRY(const std::unique_ptr<FrameSource> source, io::open_frame(file));
  return source->facts();
}

Result<Placed> place(const std::filesystem::path& file, const PoleRequest& r, const Setting& setting,
                     const Context& ctx) {
  NG_TRY(const FrameFacts facts, facts_of(file));
  if (!facts.start)
    return Error(Code::kInvalidInput, file.string() +
                                          ": the file does not say when it was taken (DATE-OBS), and the "
                                          "sky turns by 15 arcsec each second");
  NG_TRY(const auto solution, solution_of(file, r, facts, ctx));
  const Wcs& wcs = solution.first;
  Placed p;
  p.middle = facts.start->plus_seconds(facts.exposure_s.value_or(0) / 2);
  NG_TRY(const sky::Moment moment, sky::Moment::at(p.middle, setting.site));
  const math::Point middle{(facts.width - 1) / 2.0, (facts.height - 1) / 2.0};
  p.attitude = diagnose::attitude_of(wcs, middle, solution.second, moment, setting.air);
  p.scale_rad = wcs.scale_rad();
  p.half_diagonal_px = std::hypot(facts.width, facts.height) / 2;
  p.dec_rad = wcs.dec_rad;
  return p;
}

std::string turns_text(double turns) {
  return turns == 0 ? "" : fmt::format(" ({:.2f} turns of the bolt)", std::fabs(turns));
}

std::optional<double> turns_of(const std::optional<Bolt>& bolt, double angle_rad) {
  if (!bolt) return std::nullopt;
  return std::tan(angle_rad) * bolt->arm_mm / bolt->pitch_mm;
}

PoleState state_of(const PolarAxis& axis, const diagnose::AzimuthAltitude& goal, const PoleRequest& r, bool north,
                   std::string after, double good_enough_rad) {
  PoleState s;
  s.after = std::move(after);
  s.azimuth_deg = rad_to_deg(axis.azimuth_rad);
  s.altitude_deg = rad_to_deg(axis.altitude_rad);
  s.azimuth_error_arcsec = axis.azimuth_error_rad * kArcsecPerRadian;
  s.altitude_error_arcsec = axis.altitude_error_rad * kArcsecPerRadian;
  const diagnose::Correction c = diagnose::correction(axis, goal);
  s.move_east_arcmin = c.azimuth_rad * kArcsecPerRadian / 60;
  s.move_up_arcmin = c.altitude_rad * kArcsecPerRadian / 60;
  s.distance_arcmin = c.distance_rad * kArcsecPerRadian / 60;
  s.distance_error_arcsec = std::hypot(s.azimuth_error_arcsec * std::cos(axis.altitude_rad), s.altitude_error_arcsec);
  s.altitude_turns = turns_of(r.altitude_bolt, c.altitude_rad);
  s.azimuth_turns = turns_of(r.azimuth_bolt, c.azimuth_rad);
  const bool east = c.azimuth_rad > 0;
  // Behind the mount, looking along its axis at the pole: east is on the right in the north, on the left in the south.
  const char* hand = east == north ? "right" : "left";
  s.words.push_back(fmt::format("altitude: {} the axis by {:.1f} arcmin{}", c.altitude_rad > 0 ? "raise" : "lower",
                                std::fabs(s.move_up_arcmin), turns_text(s.altitude_turns.value_or(0))));
  s.words.push_back(fmt::format(
      "azimuth: turn the head by {:.1f} arcmin to the {}, so that the axis moves to the {}, as "
      "you look along it at the pole{}",
      std::fabs(s.move_east_arcmin), hand, east ? "east" : "west", turns_text(s.azimuth_turns.value_or(0))));
  if (c.distance_rad < good_enough_rad)
    s.words.emplace_back("good enough for what is planned: tighten the bolts, and look once more");
  return s;
}

Result<void> check(const PoleRequest& r) {
  for (const auto& bolt : {r.altitude_bolt, r.azimuth_bolt})
    if (bolt && !(bolt->pitch_mm > 0 && bolt->arm_mm > 0))
      return Error(Code::kInvalidInput, "the pitch and the arm of a bolt must be above 0 mm");
  if (r.target_ra_deg.has_value() != r.target_dec_deg.has_value())
    return Error(Code::kInvalidInput, "a target needs both right ascension and declination");
  if (r.target_dec_deg && !(std::fabs(*r.target_dec_deg) <= 90 && std::fabs(*r.target_ra_deg) <= 360))
    return Error(Code::kInvalidInput, "the target lies nowhere on the sky");
  if (!(r.exposure_s > 0 && r.exposure_s <= 36000))
    return Error(Code::kInvalidInput, "the exposure must lie between 0 and 36000 s");
  return {};
}

}  // namespace

Result<PoleReply> pole(const PoleRequest& request, const Context& ctx) {
  NG_CHECK(check(request));
  if (request.files.size() < 2)
    return Error(Code::kTooFew, "the polar axis needs two frames at least, between which only it was turned");
  PoleReply reply;
  NG_TRY(const FrameFacts first, facts_of(request.files.front()));
  NG_TRY(const Setting setting, setting_of(request, first, reply));
  ctx.begin("solving", static_cast<std::int64_t>(request.files.size() + request.updates.size()));
  std::vector<diagnose::Attitude> attitudes;
  Placed last;
  for (const auto& file : request.files) {
    NG_TRY(last, place(file, request, setting, ctx.serial()));
    attitudes.push_back(last.attitude);
    ctx.advance();
  }
  NG_TRY(PolarAxis axis, diagnose::polar_axis(attitudes, setting.site.latitude_rad));
  reply.turned_deg = rad_to_deg(axis.largest_turn_rad);
  if (attitudes.size() > 2) reply.misfit = axis.misfit;
  if (axis.misfit > 5)
    reply.notes.push_back(
        fmt::format("the frames do not fit one axis ({:.0f} times their errors): did the other axis "
                    "move, the tripod, or is a time wrong?",
                    axis.misfit));
  if (reply.turned_deg < 20)
    reply.notes.push_back(
        fmt::format("the axis was turned by {:.0f} degrees only: 20 or more make it surer", reply.turned_deg));

  const diagnose::Pole pole = diagnose::pole_of(setting.site, setting.air);
  reply.true_pole_altitude_deg = rad_to_deg(pole.true_pole.altitude_rad);
  reply.seen_pole_altitude_deg = rad_to_deg(pole.seen_pole.altitude_rad);
  const double dec = request.target_dec_deg ? deg_to_rad(*request.target_dec_deg) : last.dec_rad;
  const diagnose::Tolerance enough =
      diagnose::tolerance(last.scale_rad, last.half_diagonal_px, dec, request.exposure_s);
  reply.tolerance_guided_arcmin = enough.guided_rad * kArcsecPerRadian / 60;
  reply.tolerance_unguided_arcmin = enough.unguided_rad * kArcsecPerRadian / 60;
  reply.exposure_s = request.exposure_s;

  bool to_seen = true;
  if (request.target_ra_deg) {
    const sky::Direction target{deg_to_rad(*request.target_ra_deg), dec};
    double least = 1e9;
    for (const auto& [name, direction, seen] :
         {std::tuple("as it is", axis.direction, -1),
          std::tuple("at the true pole",
                     diagnose::ground_vector(pole.true_pole.azimuth_rad, pole.true_pole.altitude_rad), 0),
          std::tuple("at the pole as seen",
                     diagnose::ground_vector(pole.seen_pole.azimuth_rad, pole.seen_pole.altitude_rad), 1)}) {
      NG_TRY(const diagnose::Drift d,
             diagnose::drift_of(direction, target, last.middle, request.exposure_s, setting.site, setting.air));
      reply.drifts.push_back({name, d.north_rad * kArcsecPerRadian, d.east_rad * kArcsecPerRadian,
                              d.rotation_rad * kArcsecPerRadian / 60});
      const double size = std::hypot(d.north_rad, d.east_rad);
      if (seen < 0 || size >= least) continue;
      least = size;
      to_seen = seen == 1;
    }
  }
  reply.goal = to_seen ? "the pole as seen" : "the true pole";
  const diagnose::AzimuthAltitude& goal = to_seen ? pole.seen_pole : pole.true_pole;
  const bool north = setting.site.latitude_rad >= 0;
  reply.states.push_back(state_of(axis, goal, request, north, request.files.back().string(), enough.guided_rad));
  for (const auto& file : request.updates) {
    NG_TRY(const Placed now, place(file, request, setting, ctx.serial()));
    NG_TRY(axis, diagnose::polar_axis_after_bolts(axis, last.attitude, now.attitude).in(file.string()));
    last = now;
    reply.states.push_back(state_of(axis, goal, request, north, file.string(), enough.guided_rad));
    ctx.advance();
  }
  return reply;
}

}  // namespace ng::app
