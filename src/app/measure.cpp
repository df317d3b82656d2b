#include "app/measure.h"

#include <algorithm>

#include "app/full_level.h"
#include "app/green_plane.h"
#include "base/angle.h"
#include "io/open_frame.h"
#include "measure/stars.h"

namespace ng::app {
namespace {

MeasuredStar star_of(const Star& s) {
  MeasuredStar out;
  out.x = s.x;
  out.y = s.y;
  out.x_error = s.x_error;
  out.y_error = s.y_error;
  out.flux = s.flux;
  out.flux_error = s.flux_error;
  out.fwhm_px = s.fwhm_px;
  out.half_flux_radius_px = s.half_flux_radius_px;
  out.eccentricity = s.eccentricity;
  out.angle_deg = rad_to_deg(s.angle_rad);
  out.saturated = s.has(kStarSaturated);
  out.blended = s.has(kStarBlended);
  out.doubtful = s.has(kStarPoorFit) || s.has(kStarBadPixels) || s.has(kStarEdge);
  return out;
}

}  // namespace

Result<MeasureReply> measure(const MeasureRequest& request, const Context& ctx) {
  NG_TRY(const std::unique_ptr<FrameSource> source, io::open_frame(request.file));
  const FrameFacts& facts = source->facts();
  MeasureReply reply;
  reply.path = request.file.string();
  reply.notes = facts.warnings;

  ctx.begin("measuring", 1);
  const bool colour = facts.planes == 3;
  NG_TRY(Image<float> image, read_plane(*source, colour ? 1 : 0).in(request.file.string()));
  measure::MeasureOptions options;
  options.threshold = request.threshold;
  options.electrons_per_unit = facts.electrons_per_adu.value_or(0);
  if (!facts.electrons_per_adu)
    reply.notes.emplace_back("electrons per ADU unknown: errors hold the noise of the sky only");
  if (facts.saturation_adu) options.saturation = *facts.saturation_adu;
  if (const float level = full_level(image.plane()); level > 0)
    options.saturation = std::min<double>(options.saturation, level);
  const auto bayer = facts.mosaic(request.bayer);
  if (!colour && bayer) {
    image = green_plane(image.plane(), *bayer);
    options.noise_correlation = kGreenNoiseCorrelation;
    options.electrons_per_unit *= kGreenElectronShare;
    reply.notes.emplace_back("mosaic: measured on green, interpolated to every pixel");
  }
  NG_TRY(const measure::FrameMeasure m, measure::measure_frame(image.plane(), options, ctx).in(request.file.string()));
  ctx.advance();

  reply.width = facts.width;
  reply.height = facts.height;
  reply.background = m.quality.background;
  reply.noise = m.quality.noise;
  reply.good_stars = m.quality.good_stars;
  if (m.quality.good_stars > 0) {
    reply.fwhm_px = m.quality.fwhm_px;
    reply.half_flux_radius_px = m.quality.half_flux_radius_px;
    reply.eccentricity = m.quality.eccentricity;
  }
  for (const Star& s : m.list.stars) reply.stars.push_back(star_of(s));
  return reply;
}

}  // namespace ng::app
