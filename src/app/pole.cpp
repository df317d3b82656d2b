#include "app/pole.h"

#include <fmt/format.h>

#include <cmath>
#include <tuple>

#include "app/pole_drift.h"
#include "app/pole_place.h"
#include "base/angle.h"

namespace ng::app {
namespace {

using diagnose::PolarAxis;

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

Result<void> check_sources(const PoleRequest& r) {
  const bool drifts = !r.pairs.empty() || !r.guide_logs.empty();
  if (drifts && !r.files.empty())
    return Error(
        Code::kInvalidInput,
        "frames between which the axis was turned and drifts are two ways to the same answer: give one of them");
  if (!drifts && r.files.size() < 2)
    return Error(Code::kTooFew, "the polar axis needs two frames at least, between which only it was turned");
  if (r.pairs.empty() && r.files.empty() && !r.updates.empty())
    return Error(Code::kInvalidInput, "an update needs a frame from before the bolts were turned: give a pair as well");
  return {};
}

// The facts that may name the site: of the first frame, where there is one.
Result<FrameFacts> first_facts(const PoleRequest& r) {
  if (!r.files.empty()) return facts_of(r.files.front());
  if (!r.pairs.empty()) return facts_of(r.pairs.front().first);
  return FrameFacts{};
}

Result<PolarAxis> axis_of_frames(const PoleRequest& r, const Setting& setting, std::optional<Placed>& last,
                                 PoleReply& reply, const Context& ctx) {
  std::vector<diagnose::Attitude> attitudes;
  for (const auto& file : r.files) {
    NG_TRY(last, place(file, r, setting, ctx.serial()));
    attitudes.push_back(last->attitude);
    ctx.advance();
  }
  NG_TRY(const PolarAxis axis, diagnose::polar_axis(attitudes, setting.site.latitude_rad));
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
  return axis;
}

// Nothing from one drift alone, which shows one part of the error only.
Result<std::optional<PolarAxis>> axis_of_drifts(const PoleRequest& r, const Setting& setting,
                                                std::optional<Placed>& last, PoleReply& reply, const Context& ctx) {
  NG_TRY(const std::vector<NamedDrift> drifts, seen_drifts(r, setting, last, ctx));
  std::vector<diagnose::SeenDrift> seen;
  for (const NamedDrift& drift : drifts) {
    NG_TRY(PoleSeenDrift row, described(drift, setting));
    reply.seen_drifts.push_back(std::move(row));
    seen.push_back(drift.seen);
  }
  if (seen.size() == 1) {
    reply.notes.emplace_back(
        "one drift shows one part of the error only: add another from a place some six hours of hour angle away");
    return std::optional<PolarAxis>{};
  }
  NG_TRY(const PolarAxis axis, diagnose::polar_axis_of_drifts(seen, setting.site, setting.air));
  reply.turned_deg = rad_to_deg(axis.largest_turn_rad);
  if (seen.size() > 2) reply.misfit = axis.misfit;
  if (axis.misfit > 5)
    reply.notes.push_back(
        fmt::format("the drifts do not fit one axis ({:.0f} times their errors): was a correction in "
                    "declination left on, the tripod touched, or is a time wrong?",
                    axis.misfit));
  return std::optional(axis);
}

// What the axis as it is and the two poles leave of the planned target; true where the pole as seen is the better goal.
Result<bool> compare_goals(const sky::Direction& target, const std::optional<PolarAxis>& axis,
                           const diagnose::Pole& pole, Instant begin, const Setting& setting, PoleReply& reply) {
  bool to_seen = true;
  double least = 1e9;
  std::vector<std::tuple<const char*, math::Vec3, int>> rows;
  if (axis) rows.emplace_back("as it is", axis->direction, -1);
  rows.emplace_back("at the true pole",
                    diagnose::ground_vector(pole.true_pole.azimuth_rad, pole.true_pole.altitude_rad), 0);
  rows.emplace_back("at the pole as seen",
                    diagnose::ground_vector(pole.seen_pole.azimuth_rad, pole.seen_pole.altitude_rad), 1);
  for (const auto& [name, direction, seen] : rows) {
    NG_TRY(const diagnose::Drift d,
           diagnose::drift_of(direction, target, begin, reply.exposure_s, setting.site, setting.air));
    reply.drifts.push_back(
        {name, d.north_rad * kArcsecPerRadian, d.east_rad * kArcsecPerRadian, d.rotation_rad * kArcsecPerRadian / 60});
    const double size = std::hypot(d.north_rad, d.east_rad);
    if (seen < 0 || size >= least) continue;
    least = size;
    to_seen = seen == 1;
  }
  return to_seen;
}

}  // namespace

Result<PoleReply> pole(const PoleRequest& request, const Context& ctx) {
  NG_CHECK(check(request));
  NG_CHECK(check_sources(request));
  PoleReply reply;
  reply.exposure_s = request.exposure_s;
  NG_TRY(const FrameFacts facts, first_facts(request));
  NG_TRY(const Setting setting, setting_of(request, facts, reply));
  ctx.begin("solving", static_cast<std::int64_t>(request.files.size() + request.pairs.size() +
                                                 request.guide_logs.size() + request.updates.size()));
  std::optional<Placed> last;
  std::optional<PolarAxis> axis;
  if (request.files.empty()) {
    NG_TRY(axis, axis_of_drifts(request, setting, last, reply, ctx));
  } else {
    NG_TRY(axis, axis_of_frames(request, setting, last, reply, ctx));
  }

  const diagnose::Pole pole = diagnose::pole_of(setting.site, setting.air);
  reply.true_pole_altitude_deg = rad_to_deg(pole.true_pole.altitude_rad);
  reply.seen_pole_altitude_deg = rad_to_deg(pole.seen_pole.altitude_rad);
  double good_enough_rad = 0;
  if (last) {
    const double dec = request.target_dec_deg ? deg_to_rad(*request.target_dec_deg) : last->wcs.dec_rad;
    const diagnose::Tolerance enough =
        diagnose::tolerance(last->scale_rad, last->half_diagonal_px, dec, request.exposure_s);
    good_enough_rad = enough.guided_rad;
    reply.tolerance_guided_arcmin = enough.guided_rad * kArcsecPerRadian / 60;
    reply.tolerance_unguided_arcmin = enough.unguided_rad * kArcsecPerRadian / 60;
  }
  bool to_seen = true;
  if (request.target_ra_deg) {
    const Instant begin = last ? last->middle : request.guide_logs.back().begin;
    const sky::Direction target{deg_to_rad(*request.target_ra_deg), deg_to_rad(*request.target_dec_deg)};
    NG_TRY(to_seen, compare_goals(target, axis, pole, begin, setting, reply));
  }
  reply.goal = to_seen ? "the pole as seen" : "the true pole";
  if (!axis) return reply;
  const diagnose::AzimuthAltitude& goal = to_seen ? pole.seen_pole : pole.true_pole;
  const bool north = setting.site.latitude_rad >= 0;
  const std::string after = request.files.empty() ? reply.seen_drifts.back().from : request.files.back().string();
  reply.states.push_back(state_of(*axis, goal, request, north, after, good_enough_rad));
  for (const auto& file : request.updates) {
    NG_TRY(const Placed now, place(file, request, setting, ctx.serial()));
    NG_TRY(axis, diagnose::polar_axis_after_bolts(*axis, last->attitude, now.attitude).in(file.string()));
    last = now;
    reply.states.push_back(state_of(*axis, goal, request, north, file.string(), good_enough_rad));
    ctx.advance();
  }
  return reply;
}

}  // namespace ng::app
