#include "app/solve_stars.h"

#include <fmt/format.h>

#include <chrono>
#include <cmath>

#include "app/wcs_cards.h"
#include "astrometry/solve.h"
#include "base/angle.h"

namespace ng::app {
namespace {

using astrometry::Hint;

constexpr double kHeaderRadiusDeg = 2;     // how far a mount may miss
constexpr double kHeaderScaleShare = 0.1;  // how far a stated focal length may be off
constexpr double kYearWithoutDate = 2020;

struct Try {
  Hint hint;
  bool by_header = false;
};

double julian_year(const Instant& t) {
  return 2000 + (t.jd() - 2451545.0) / 365.25;
}

void set_place(Hint& hint, double ra_deg, double dec_deg, double radius_deg) {
  hint.centre = math::from_angles(deg_to_rad(ra_deg), deg_to_rad(dec_deg));
  hint.radius_rad = deg_to_rad(radius_deg);
}

// What is tried, in order: what the user says; with it, what the header says; the user's words alone.
std::vector<Try> tries_of(const SolveRequest& r, const SolveField& f) {
  Hint by_user;
  if (r.hint_ra_deg) set_place(by_user, *r.hint_ra_deg, *r.hint_dec_deg, r.radius_deg);
  if (r.low_scale_arcsec_px) {
    by_user.low_scale_rad = *r.low_scale_arcsec_px / kArcsecPerRadian;
    by_user.high_scale_rad = r.high_scale_arcsec_px.value_or(*r.low_scale_arcsec_px) / kArcsecPerRadian;
  } else {
    // No frame is wider than 100 degrees or narrower than 3 arcminutes here.
    by_user.low_scale_rad = deg_to_rad(0.05) / f.field.diagonal_px();
    by_user.high_scale_rad = deg_to_rad(100) / f.field.diagonal_px();
  }
  std::vector<Try> tries;
  if (r.use_header && (!r.hint_ra_deg || !r.low_scale_arcsec_px)) {
    Hint hint = by_user;
    bool helped = false;
    if (!r.low_scale_arcsec_px && f.scale_arcsec_px) {
      hint.low_scale_rad = *f.scale_arcsec_px * (1 - kHeaderScaleShare) / kArcsecPerRadian;
      hint.high_scale_rad = *f.scale_arcsec_px * (1 + kHeaderScaleShare) / kArcsecPerRadian;
      helped = true;
    }
    if (!r.hint_ra_deg && f.ra_deg && f.dec_deg) {
      set_place(hint, *f.ra_deg, *f.dec_deg, kHeaderRadiusDeg);
      helped = true;
    }
    if (helped) tries.push_back({hint, true});
  }
  tries.push_back({by_user, false});
  return tries;
}

std::vector<ResidualCell> residual_map(const astrometry::Field& field, const astrometry::WcsFit& fit) {
  constexpr int kColumns = 4, kRows = 3;
  std::vector<ResidualCell> cells;
  for (int j = 0; j < kRows; ++j)
    for (int i = 0; i < kColumns; ++i)
      cells.push_back({field.width * (i + 0.5) / kColumns - 0.5, field.height * (j + 0.5) / kRows - 0.5, 0, 0, 0});
  for (const auto& m : fit.matched) {
    if (m.outlier) continue;
    const auto& s = field.stars[static_cast<std::size_t>(m.seen)];
    const int i = std::clamp(static_cast<int>((s.x + 0.5) * kColumns / field.width), 0, kColumns - 1);
    const int j = std::clamp(static_cast<int>((s.y + 0.5) * kRows / field.height), 0, kRows - 1);
    ResidualCell& cell = cells[static_cast<std::size_t>(j * kColumns + i)];
    ++cell.stars;
    cell.dx_px += m.dx_px;
    cell.dy_px += m.dy_px;
  }
  for (ResidualCell& cell : cells) {
    cell.dx_px /= std::max(1, cell.stars);
    cell.dy_px /= std::max(1, cell.stars);
  }
  return cells;
}

// How far the distortion carries a corner.
double distortion_px(const Wcs& wcs, const astrometry::Field& field) {
  double most = 0;
  for (const double x : {0.0, field.width - 1.0})
    for (const double y : {0.0, field.height - 1.0}) {
      const double u = x - wcs.reference_x, v = y - wcs.reference_y;
      most = std::max(most, std::hypot(wcs.a.at(u, v), wcs.b.at(u, v)));
    }
  return most;
}

Json json_of(const std::vector<io::FitsCard>& cards) {
  Json object = Json::object();
  for (const io::FitsCard& card : cards) std::visit([&](const auto& v) { object[card.name] = v; }, card.value);
  return object;
}

void describe(const astrometry::Solution& s, const SolveField& f, const SolveRequest& request, SolveReply& reply) {
  const Wcs& wcs = s.fit.wcs;
  const astrometry::Field& field = f.field;
  reply.solved = true;
  const SkyPlace centre = wcs.sky_of(field.middle());
  reply.ra_deg = rad_to_deg(centre.ra_rad);
  reply.dec_deg = rad_to_deg(centre.dec_rad);
  reply.centre_error_arcsec = s.fit.centre_error_rad * kArcsecPerRadian;
  const double scale = wcs.scale_rad() * kArcsecPerRadian;
  reply.scale_arcsec_px = scale;
  reply.scale_error_arcsec_px = s.fit.scale_error * scale;
  reply.rotation_deg = rad_to_deg(wcs.top_angle_rad());
  reply.rotation_error_deg = rad_to_deg(s.fit.rotation_error_rad);
  reply.flipped = wcs.mirrored();
  reply.width_deg = rad_to_deg(2 * std::atan(wcs.scale_rad() * field.width / 2));
  reply.height_deg = rad_to_deg(2 * std::atan(wcs.scale_rad() * field.height / 2));
  reply.matched = static_cast<int>(s.fit.matched.size());
  reply.rms_px = s.fit.rms_px;
  reply.rms_arcsec = s.fit.rms_px * scale;
  reply.expected_rms_px = s.fit.expected_rms_px;
  const auto pixel = request.pixel_size_um ? request.pixel_size_um : f.pixel_size_um;
  if (pixel) reply.focal_length_mm = *pixel * 1e-3 / wcs.scale_rad();
  reply.distortion_degree = s.fit.degree;
  if (wcs.distorted()) reply.distortion_px = distortion_px(wcs, field);
  reply.log_odds = s.found.log_odds - s.found.log_proposals;
  reply.blind = s.blind;
  reply.wcs = json_of(wcs_cards(wcs));
  reply.solution = wcs;
  reply.residual_map = residual_map(field, s.fit);
  for (const auto& m : s.fit.matched) {
    const auto& seen = field.stars[static_cast<std::size_t>(m.seen)];
    const math::Angles at = math::to_angles(m.star.direction);
    reply.matched_stars.push_back({seen.x,
                                   seen.y,
                                   rad_to_deg(at.longitude_rad),
                                   rad_to_deg(at.latitude_rad),
                                   m.star.magnitude,
                                   m.dx_px,
                                   m.dy_px,
                                   m.outlier,
                                   m.star.colour,
                                   {},
                                   {}});
  }
}

// Why there is no place, and what would help.
std::string advice(const std::string& why, const SolveField& f, const SkyCatalogues& skies) {
  std::string text = why;
  double reach = -99;
  for (const NamedSky& sky : skies.all) reach = std::max(reach, sky.file.facts().reach_mag);
  if (f.field.stars.size() < 8) return text + "; a longer exposure shows more";
  text += fmt::format(" (catalogues here reach magnitude {:.1f}).", reach);
  if (f.scale_arcsec_px) {
    const double area = f.field.width * *f.scale_arcsec_px / 3600 * f.field.height * *f.scale_arcsec_px / 3600;
    text += fmt::format(
        " By its header the frame covers {:.2f} square degrees, on which the built-in catalogue has about "
        "{:.0f} stars.",
        area, 2.9 * area);
  }
  return text +
         " For a field smaller than about 2.6 x 1.7 degrees import a deeper catalogue (nightglass catalogue "
         "import): Tycho-2 (tyc2.dat.00.gz to .19.gz and suppl_1.dat.gz), or an extract of Gaia around the target";
}

}  // namespace

Result<SolveReply> solve_stars(const SolveField& f, const SolveRequest& request, const SkyCatalogues& skies,
                               const Context& ctx) {
  SolveReply reply;
  reply.stars = static_cast<int>(f.field.stars.size());
  if (!f.start)
    reply.notes.push_back(fmt::format("the file gives no date: proper motions are taken to {}", kYearWithoutDate));
  const double year = f.start ? julian_year(*f.start) : kYearWithoutDate;
  const auto begun = std::chrono::steady_clock::now();
  const auto files = skies.files();
  std::optional<Error> why;
  for (const Try& attempt : tries_of(request, f)) {
    auto solution = astrometry::solve(f.field, files, year, attempt.hint, {}, ctx);
    if (solution.ok()) {
      if (!attempt.by_header && why)
        reply.notes.emplace_back("the place or scale in the header is wrong: solved without");
      describe(*solution, f, request, reply);
      reply.catalogue = skies.all[solution->catalogue].name;
      reply.band = skies.all[solution->catalogue].file.facts().band;
      break;
    }
    if (solution.error().code() == Code::kCancelled) return std::move(solution).error();
    why = std::move(solution).error();
  }
  reply.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  if (!reply.solved) reply.reason = advice(why->message(), f, skies);
  return reply;
}

}  // namespace ng::app
