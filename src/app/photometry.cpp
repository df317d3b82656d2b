#include "app/photometry.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/full_level.h"
#include "app/green_plane.h"
#include "astrometry/zero_point.h"
#include "base/angle.h"
#include "io/open_frame.h"
#include "math/robust.h"
#include "measure/aperture.h"
#include "measure/stars.h"

namespace ng::app {
namespace {

constexpr double kLimitSigmas = 5;
constexpr double kSaturationShare = 0.9;  // of full: the response bends before (common practice, no source)
constexpr std::size_t kWholeNeeded = 5;

struct Pixels {
  Image<float> image;
  FrameFacts facts;
  double electrons_per_unit = 0;  // 0: unknown
  double noise_factor = 1;        // of a sum, over that of independent pixels
  double saturation = 1e30;
};

Result<Pixels> read_pixels(const std::filesystem::path& file, std::optional<BayerPattern> bayer) {
  Pixels p;
  NG_TRY(const std::unique_ptr<FrameSource> source, io::open_frame(file));
  p.facts = source->facts();
  NG_TRY(p.image, read_plane(*source, p.facts.planes == 3 ? 1 : 0).in(file.string()));
  p.electrons_per_unit = p.facts.electrons_per_adu.value_or(0);
  if (p.facts.saturation_adu) p.saturation = *p.facts.saturation_adu;
  if (const float full = full_level(p.image.plane()); full > 0) p.saturation = std::min<double>(p.saturation, full);
  const auto pattern = p.facts.mosaic(bayer);
  if (p.facts.planes != 3 && pattern) {
    p.image = green_plane(p.image.plane(), *pattern);
    p.noise_factor = kGreenNoiseCorrelation;
  }
  return p;
}

// What stars have beyond the aperture, as a factor: from the brightest that are whole, up to where the ring begins.
double aperture_correction(const Pixels& p, std::span<const Star> stars, const measure::ApertureSize& size) {
  measure::ApertureSize wide = size;
  wide.radius_px = size.ring_inner_px;
  std::vector<double> ratios;
  for (const Star& s : stars) {
    if (ratios.size() == 60) break;
    if (s.has(kStarSaturated) || s.has(kStarBlended) || s.has(kStarEdge) || s.has(kStarBadPixels)) continue;
    const auto small = measure::measure_aperture(p.image.plane(), {s.x, s.y}, size, p.electrons_per_unit);
    const auto large = measure::measure_aperture(p.image.plane(), {s.x, s.y}, wide, p.electrons_per_unit);
    if (small.cut || small.peak > kSaturationShare * p.saturation || !(small.flux > 30 * small.error)) continue;
    ratios.push_back(large.flux / small.flux);
  }
  // Less than the aperture itself no star holds; neighbours make some hold far more.
  return ratios.size() < kWholeNeeded ? 1 : std::clamp(math::median(ratios), 1.0, 1.3);
}

}  // namespace

Result<PhotometryAnswer> photometry_of(const std::filesystem::path& file, std::optional<BayerPattern> bayer,
                                       std::span<const StarOnFrame> stars, const std::string& band,
                                       double scale_arcsec_px, const Context& ctx) {
  PhotometryAnswer answer;
  NG_TRY(const Pixels p, read_pixels(file, bayer));
  measure::MeasureOptions options;
  options.electrons_per_unit = p.electrons_per_unit;
  options.saturation = p.saturation;
  options.max_stars = 400;
  NG_TRY(const measure::FrameMeasure m, measure::measure_frame(p.image.plane(), options, ctx).in(file.string()));

  FramePhotometry f;
  f.band = band;
  f.unit = p.electrons_per_unit > 0 ? "electron" : "adu";
  const auto exposure = p.facts.value_exposure_s ? p.facts.value_exposure_s : p.facts.exposure_s;
  f.exposure_s = exposure.value_or(1);
  if (!(f.exposure_s > 0)) f.exposure_s = 1;
  const measure::ApertureSize size = measure::ApertureSize::for_fwhm(m.quality.fwhm_px);
  f.aperture_radius_px = size.radius_px;
  f.ring_inner_px = size.ring_inner_px;
  f.ring_outer_px = size.ring_outer_px;
  const double correction = aperture_correction(p, m.list.stars, size);
  f.aperture_correction_mag = -2.5 * std::log10(correction);

  const double unit = p.electrons_per_unit > 0 ? p.electrons_per_unit : 1;  // of a value, in `f.unit`
  const double to_rate = unit * correction / f.exposure_s;
  std::vector<astrometry::PhotometryStar> measured;
  int full = 0;
  for (const StarOnFrame& s : stars) {
    const auto a = measure::measure_aperture(p.image.plane(), {s.x, s.y}, size, p.electrons_per_unit);
    full += a.peak >= kSaturationShare * p.saturation ? 1 : 0;
    const bool used = !a.cut && a.peak < kSaturationShare * p.saturation && a.flux > 5 * a.error;
    answer.stars.push_back({a.flux, a.error, used});
    if (used) measured.push_back({a.flux * to_rate, a.error * to_rate, s.magnitude, s.colour});
  }
  const auto zero = astrometry::zero_point(measured);
  if (!zero.ok()) {
    answer.notes.push_back(fmt::format(
        "no photometric zero point: of {} stars of the catalogue on the frame {} can be measured, {} are saturated; a "
        "deeper catalogue has fainter ones",
        stars.size(), measured.size(), full));
    return answer;
  }
  f.zero_point_mag = zero->magnitude;
  f.zero_point_error_mag = zero->error;
  f.scatter_mag = zero->scatter;
  f.colour_term = zero->colour_term;
  f.colour_term_error = zero->colour_term_error;
  f.colour_reference = zero->colour;
  f.stars = zero->stars;
  f.outliers = zero->outliers;
  if (!exposure)
    answer.notes.emplace_back("the file states no exposure: zero point and limit are those of one second a frame");

  // Fitted with its profile a star is spread over 4 pi sigma^2 pixels (King 1983, PASP 95, 163), and at least one.
  const double sigma = m.quality.fwhm_px / 2.3548;
  const double noise_area = std::max(1.0, 4 * kPi * sigma * sigma) * p.noise_factor * p.noise_factor;
  if (m.quality.fwhm_px > 0)
    f.limiting_mag = astrometry::limiting_magnitude(f.zero_point_mag, kLimitSigmas, m.quality.noise * unit, noise_area,
                                                    p.electrons_per_unit > 0 ? 1 : 0, f.exposure_s);
  const bool level_known = p.facts.black_level_adu || p.facts.dark_subtracted || p.facts.calibrated;
  const double sky =
      (m.quality.background - (p.facts.dark_subtracted ? 0 : p.facts.black_level_adu.value_or(0))) * unit;
  if (level_known && sky > 0) {
    f.sky_mag_arcsec2 = f.zero_point_mag - 2.5 * std::log10(sky / f.exposure_s / (scale_arcsec_px * scale_arcsec_px));
    // The level: how much the boxes of the background differ, gradients included.
    std::vector<float> boxes;
    for (int y = 0; y < m.background.level.height(); ++y)
      boxes.insert(boxes.end(), m.background.level.plane().row(y),
                   m.background.level.plane().row(y) + m.background.level.width());
    const float middle = math::median(std::span<float>(boxes));
    const double level_error = math::mad_sigma(std::span<float>(boxes), middle) * unit;
    f.sky_error_mag_arcsec2 = std::hypot(f.zero_point_error_mag, 1.0857362 * level_error / sky);
  } else if (!level_known) {
    answer.notes.emplace_back(
        "no sky brightness: the file states no black level; solve a calibrated frame or a master");
  }
  answer.photometry = f;
  return answer;
}

}  // namespace ng::app
