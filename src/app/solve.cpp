#include "app/solve.h"

#include <cmath>

#include "app/overlay.h"
#include "app/sky_catalogues.h"
#include "app/solve_field.h"
#include "app/solve_stars.h"
#include "app/wcs_cards.h"
#include "io/fits_card_change.h"

namespace ng::app {
namespace {

Result<void> check(const SolveRequest& r) {
  if (r.hint_ra_deg.has_value() != r.hint_dec_deg.has_value())
    return Error(Code::kInvalidInput, "a hint of place needs both right ascension and declination");
  if (r.hint_dec_deg && !(std::fabs(*r.hint_dec_deg) <= 90 && std::fabs(*r.hint_ra_deg) <= 360))
    return Error(Code::kInvalidInput,
                 "the hint lies nowhere on the sky: right ascension -360 to 360, declination -90 "
                 "to 90 degrees");
  if (!(r.radius_deg > 0 && r.radius_deg <= 180))
    return Error(Code::kInvalidInput, "the radius of the hint must lie between 0 and 180 degrees");
  if (r.low_scale_arcsec_px && r.high_scale_arcsec_px &&
      !(*r.low_scale_arcsec_px > 0 && *r.low_scale_arcsec_px <= *r.high_scale_arcsec_px))
    return Error(Code::kInvalidInput, "the scale must be above 0, the lower limit first");
  if (r.pixel_size_um && !(*r.pixel_size_um > 0.1 && *r.pixel_size_um < 1000))
    return Error(Code::kInvalidInput, "the size of a pixel must lie between 0.1 and 1000 micrometres");
  return {};
}

Result<void> add_photometry(const SolveRequest& request, SolveReply& reply, const Context& ctx) {
  std::vector<StarOnFrame> stars;
  for (const SolvedStar& s : reply.matched_stars) stars.push_back({s.x, s.y, s.magnitude, s.colour});
  NG_TRY(PhotometryAnswer answer,
         photometry_of(request.file, request.bayer, stars, reply.band, *reply.scale_arcsec_px, ctx));
  reply.photometry = answer.photometry;
  reply.notes.insert(reply.notes.end(), answer.notes.begin(), answer.notes.end());
  for (std::size_t i = 0; i < answer.stars.size(); ++i) {
    if (!answer.stars[i].used) continue;
    reply.matched_stars[i].aperture_flux = answer.stars[i].flux;
    reply.matched_stars[i].aperture_error = answer.stars[i].error;
  }
  return {};
}

Result<void> add_annotation(const SolveRequest& request, int width, int height, SolveReply& reply) {
  NG_TRY(FrameAnnotation annotation, annotate(reply.solution, width, height));
  if (request.overlay) {
    // A copy of the frame and a drawing are different files; the one may not take the other's place.
    const io::Overwrite overwrite =
        request.write && *request.write == request.file ? io::Overwrite::kRefuse : request.overwrite;
    NG_CHECK(draw_overlay(request.file, request.bayer, annotation, *request.overlay, overwrite));
    reply.overlay = request.overlay->string();
  }
  if (request.annotation) reply.annotation = std::move(annotation);
  return {};
}

}  // namespace

Result<SolveReply> solve(const SolveRequest& request, const Context& ctx) {
  NG_CHECK(check(request));
  NG_TRY(const SkyCatalogues skies, open_catalogues(request.catalogues, request.built_in, request.workspace));
  NG_TRY(SolveField f, field_of(request.file, request.bayer, ctx));
  NG_TRY(SolveReply reply, solve_stars(f, request, skies, ctx));
  reply.path = request.file.string();
  std::vector<std::string> notes = std::move(f.notes);
  notes.insert(notes.end(), skies.notes.begin(), skies.notes.end());
  reply.notes.insert(reply.notes.begin(), notes.begin(), notes.end());
  if (reply.solved && request.photometry) NG_CHECK(add_photometry(request, reply, ctx));
  if (reply.solved && (request.annotation || request.overlay))
    NG_CHECK(add_annotation(request, f.field.width, f.field.height, reply));
  if (!request.list_stars) reply.matched_stars.clear();
  if (!reply.solved || !request.write) return reply;
  NG_CHECK(
      io::change_fits_cards(request.file, *request.write, is_wcs_card, wcs_cards(reply.solution), request.overwrite));
  reply.written = request.write->string();
  return reply;
}

}  // namespace ng::app
