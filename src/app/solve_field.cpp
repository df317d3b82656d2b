#include "app/solve_field.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "io/open_frame.h"
#include "math/robust.h"

namespace ng::app {
namespace {

// Width of a star image among these detections: the median of the brighter half, for hot pixels are mostly faint.
double usual_fwhm_px(const std::vector<MeasuredStar>& stars) {
  std::vector<double> widths;
  for (const MeasuredStar& s : stars)
    if (!s.saturated && !s.doubtful && s.fwhm_px > 0) widths.push_back(s.fwhm_px);
  if (widths.size() > 20) widths.resize(widths.size() / 2);
  return widths.empty() ? 0 : math::median(widths);
}

bool is_star_image(const MeasuredStar& s, double usual_px) {
  if (!(s.flux > 0) || !std::isfinite(s.x) || !std::isfinite(s.y)) return false;
  return s.saturated || (s.fwhm_px > 0.55 * usual_px && s.fwhm_px < 4 * usual_px && s.eccentricity < 0.97);
}

}  // namespace

std::optional<double> stated_scale_arcsec_px(const FrameFacts& facts) {
  if (facts.plate_scale_arcsec_px || !facts.pixel_size_um || !facts.focal_length_mm) return facts.plate_scale_arcsec_px;
  return *facts.pixel_size_um * 1e-3 / *facts.focal_length_mm * kArcsecPerRadian;
}

Result<SolveField> field_of(const std::filesystem::path& file, std::optional<BayerPattern> bayer, const Context& ctx) {
  SolveField out;
  {
    NG_TRY(const std::unique_ptr<FrameSource> source, io::open_frame(file));
    const FrameFacts& facts = source->facts();
    out.ra_deg = facts.ra_deg;
    out.dec_deg = facts.dec_deg;
    out.pixel_size_um = facts.pixel_size_um;
    out.start = facts.start;
    out.scale_arcsec_px = stated_scale_arcsec_px(facts);
  }
  MeasureRequest request;
  request.file = file;
  request.bayer = bayer;
  NG_TRY(MeasureReply measured, measure(request, ctx));
  out.notes = std::move(measured.notes);
  out.field.width = measured.width;
  out.field.height = measured.height;
  const double usual = usual_fwhm_px(measured.stars);
  for (const MeasuredStar& s : measured.stars) {
    if (!is_star_image(s, usual)) {
      ++out.left_out;
      continue;
    }
    out.field.stars.push_back({s.x, s.y, std::hypot(s.x_error, s.y_error) / std::sqrt(2.0), s.flux});
  }
  std::stable_sort(out.field.stars.begin(), out.field.stars.end(),
                   [](const auto& a, const auto& b) { return a.flux > b.flux; });
  return out;
}

}  // namespace ng::app
