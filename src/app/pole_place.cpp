#include "app/pole_place.h"

#include <fmt/format.h>

#include <cmath>

#include "app/header_wcs.h"
#include "app/solve.h"
#include "app/workspace.h"
#include "base/angle.h"
#include "io/open_frame.h"

namespace ng::app {
namespace {

double standard_pressure_hpa(double elevation_m) {
  return 1013.25 * std::pow(1 - 2.25577e-5 * elevation_m, 5.25588);  // ISO 2533:1975, standard atmosphere
}

}  // namespace

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

namespace {

// The solution by the stars, or the header's; the latter without errors of its own: a third of a pixel is assumed.
Result<std::pair<Wcs, diagnose::SolutionErrors>> solution_of(const std::filesystem::path& file, const PoleRequest& r,
                                                             const FrameFacts& facts, const Context& ctx) {
  const double half = std::hypot(facts.width, facts.height) / 2;
  if (r.trust_header) {
    NG_TRY(const Wcs wcs, header_wcs(file));
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

}  // namespace

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
  p.wcs = wcs;
  p.middle_px = middle;
  p.attitude = diagnose::attitude_of(wcs, middle, solution.second, moment, setting.air);
  p.scale_rad = wcs.scale_rad();
  p.half_diagonal_px = std::hypot(facts.width, facts.height) / 2;
  return p;
}

}  // namespace ng::app
