#include "measure/stars.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/angle.h"
#include "base/parallel.h"
#include "math/point_index.h"
#include "math/robust.h"
#include "measure/detect.h"
#include "measure/frame_profile.h"
#include "measure/half_flux.h"
#include "measure/half_size.h"
#include "measure/profile_fit.h"

namespace ng::measure {
namespace {

constexpr double kPlentyThreshold = 1.6;
constexpr std::size_t kWidthStars = 1000;  // of the middle of the frame, that may tell the width
constexpr double kFallbackFwhm = 2.8;      // pixels; only where no star tells
constexpr double kConfirmed = 3;           // flux over its error, below which the fit does not bear a detection out

DetectOptions detect_options(const MeasureOptions& options, double sigma_px) {
  DetectOptions result;
  result.sigma_px = sigma_px;
  result.threshold = options.threshold;
  result.noise_correlation = options.noise_correlation;
  result.electrons_per_unit = options.electrons_per_unit;
  return result;
}

// Width of the stars of the middle of the frame, cheaply.
Result<double> first_guess_of_width(View<const float> image, const BackgroundMap& background, const HalfSize& half,
                                    const MeasureOptions& options, const Context& ctx) {
  constexpr int kSide = 704;  // of the half size
  const int side_x = std::min(half.width(), kSide), side_y = std::min(half.height(), kSide);
  const int x0 = (half.width() - side_x) / 2, y0 = (half.height() - side_y) / 2;
  DetectOptions detecting = detect_options(options, 1.3);
  detecting.threshold += 3;
  NG_TRY(auto detections,
         detect(half.plane().crop({x0, y0, side_x, side_y}), nullptr, at_half_size(detecting, background), ctx));
  for (Detection& d : detections) d.x += x0, d.y += y0;
  return rough_fwhm(image, background, at_full_size(std::move(detections), image, kWidthStars), options.saturation);
}

// Marks the pixels of a star's box that lie nearer to a neighbour worth minding.
struct Neighbourhood {
  Image<std::uint8_t> blocked;
  bool any = false;
  bool blended = false;
};

Neighbourhood look_around(const std::vector<Detection>& detections, const math::PointIndex& index, std::size_t self,
                          int radius) {
  const Detection& d = detections[self];
  Neighbourhood n;
  const math::Point centre{static_cast<double>(d.x), static_cast<double>(d.y)};
  struct Neighbour {
    int x, y;  // from the star
  };
  std::vector<Neighbour> near;
  for (const int j : index.within(centre, 1.5 * radius)) {
    const Detection& other = detections[static_cast<std::size_t>(j)];
    if (static_cast<std::size_t>(j) == self || other.significance < 0.02f * d.significance) continue;
    near.push_back({other.x - d.x, other.y - d.y});
    const double distance = std::hypot(other.x - d.x, other.y - d.y);
    n.blended = n.blended || (distance <= radius && other.significance > 0.05f * d.significance);
  }
  if (near.empty()) return n;
  n.any = true;
  n.blocked = Image<std::uint8_t>(2 * radius + 1, 2 * radius + 1, 1, std::uint8_t{0});
  for (int y = -radius; y <= radius; ++y) {
    std::uint8_t* row = n.blocked.plane().row(y + radius);
    for (const Neighbour& other : near) {
      // Nearer to the other: 2 (x ox + y oy) > ox^2 + oy^2.
      const int limit = other.x * other.x + other.y * other.y - 2 * y * other.y;
      for (int x = -radius; x <= radius; ++x) row[x + radius] |= static_cast<std::uint8_t>(2 * x * other.x > limit);
    }
  }
  return n;
}

class StarFitter {
 public:
  StarFitter(View<const float> image, const MeasureOptions& options, const FrameMeasure& frame,
             const std::vector<Detection>& detections, double fwhm_px)
      : image_(image),
        options_(options),
        frame_(frame),
        detections_(detections),
        index_(places_of(detections)),
        radius_(std::clamp(static_cast<int>(std::ceil(2.2 * fwhm_px)), 4, 36)),
        star_ratio_(frame.profile.over_pixel(1, 0) / frame.profile.over_pixel(0, 0)) {}

  // Flux 0 where the detection turns out not to be a star.
  [[nodiscard]] Star fit(std::size_t i) const {
    const Detection& d = detections_[i];
    Star star;
    const double sky = frame_.background.level_at(d.x, d.y);
    const double sigma = noise_at(d.x, d.y);
    if (frame_.has_profile && is_spike(d, sky, sigma)) return star;

    const Neighbourhood around = look_around(detections_, index_, i, radius_);
    const PixelNoise noise{options_.noise_correlation * sigma, options_.electrons_per_unit, options_.saturation};
    FitStart start;
    start.x = d.x;
    start.y = d.y;
    start.background = sky;
    start.profile = frame_.profile;
    start.flux = d.significance * noise.sky_sigma * std::sqrt(frame_.profile.noise_area_px());
    start.radius_px = radius_;
    const View<const std::uint8_t> blocked = around.any ? around.blocked.plane() : View<const std::uint8_t>{};
    const bool free = d.significance > options_.free_shape_snr || !frame_.has_profile;
    start.shape = free ? Shape::kFree : Shape::kFixed;
    ProfileFit f = fit_profile(image_, noise, start, blocked);
    bool poor = false;
    if (free && !credible(f)) {  // a trail, a blend, a galaxy: at least its place and flux
      poor = true;
      start.shape = Shape::kFixed;
      const ProfileFit fixed = fit_profile(image_, noise, start, blocked);
      if (fixed.converged) f = fixed;
    }
    if (!f.converged || std::hypot(f.x - d.x, f.y - d.y) > 1 + frame_.profile.fwhm_px()) return star;
    if (!f.saturated && f.flux < kConfirmed * f.flux_error) return star;  // a bump in the wings of a bright star
    if (!(f.x > -0.5 && f.y > -0.5 && f.x < image_.width - 0.5 && f.y < image_.height - 0.5)) return star;
    star.x = f.x;
    star.y = f.y;
    star.x_error = f.x_error;
    star.y_error = f.y_error;
    star.flux = f.flux;
    star.flux_error = f.flux_error;
    star.background = f.background;
    star.peak = f.flux * f.profile.over_pixel(f.x - std::round(f.x), f.y - std::round(f.y));
    star.fwhm_px = f.profile.fwhm_px();
    star.fwhm_error_px = f.fwhm_error_px;
    star.eccentricity = f.profile.eccentricity();
    star.angle_rad = f.profile.angle_rad();
    star.half_flux_radius_px =
        half_flux_radius(image_, f.x, f.y, f.background, f.flux, f.profile.half_flux_radius_px(), 1.5 * radius_);
    if (f.saturated) star.flags |= kStarSaturated;
    if (around.blended) star.flags |= kStarBlended;
    if (f.cut) star.flags |= kStarEdge;
    if (f.bad_pixels) star.flags |= kStarBadPixels;
    if (poor) star.flags |= kStarPoorFit;
    return star;
  }

 private:
  static std::vector<math::Point> places_of(const std::vector<Detection>& detections) {
    std::vector<math::Point> places;
    places.reserve(detections.size());
    for (const Detection& d : detections) places.push_back({static_cast<double>(d.x), static_cast<double>(d.y)});
    return places;
  }
  [[nodiscard]] double noise_at(int x, int y) const {
    const int box = frame_.background.box_px;
    return frame_.background.noise.plane()(x / box, y / box);
  }
  // Sharper than the optics allow: a hot pixel or a cosmic ray hit.
  [[nodiscard]] bool is_spike(const Detection& d, double sky, double sigma) const {
    const double ratio = neighbour_ratio(image_, sky, d.x, d.y);
    float peak = 0;
    for (int y = std::max(0, d.y - 1); y <= std::min(image_.height - 1, d.y + 1); ++y)
      for (int x = std::max(0, d.x - 1); x <= std::min(image_.width - 1, d.x + 1); ++x)
        if (image_(x, y) > peak) peak = image_(x, y);
    const double height = std::max(peak - sky, 1e-9);
    const double ratio_error = sigma / height * std::sqrt(0.25 + ratio * ratio);
    return ratio + 3 * ratio_error < 0.5 * star_ratio_;
  }
  [[nodiscard]] bool credible(const ProfileFit& f) const {
    if (!f.converged) return false;
    if (!frame_.has_profile) return true;
    const double ratio = f.profile.fwhm_px() / frame_.profile.fwhm_px();
    return ratio > 0.5 && ratio < 2.5 && f.profile.eccentricity() < 0.97;
  }

  View<const float> image_;
  const MeasureOptions& options_;
  const FrameMeasure& frame_;
  const std::vector<Detection>& detections_;
  math::PointIndex index_;
  int radius_;
  double star_ratio_;
};

// Discs over the detections, growing with their brightness; not over those that cover far more pixels than a star of
// their brightness does above the threshold: pieces of trails.
std::vector<Disc> discs_of(const std::vector<Detection>& detections, const DetectOptions& options, double fwhm_px) {
  std::vector<Disc> discs;
  for (const Detection& d : detections) {
    // A filtered star falls as a Gaussian of sqrt(2) times the filter's width, down to its wings.
    const double steps = std::log(std::max(1.2, d.significance / options.threshold));
    const double star_area = 2 * kPi * 2 * options.sigma_px * options.sigma_px * steps;
    if (d.significance < 200 && d.area_px > 2.5 * star_area + 12) continue;
    const double height = d.significance / (2 * std::sqrt(kPi) * options.sigma_px);  // of the peak, in sigma of a pixel
    discs.push_back({static_cast<double>(d.x), static_cast<double>(d.y),
                     fwhm_px * (1.0 + 0.45 * std::log2(1 + std::sqrt(height)))});
  }
  return discs;
}

double median_over(const std::vector<Star>& stars, double Star::*field) {
  std::vector<double> values;
  for (const Star& s : stars) values.push_back(s.*field);
  return values.empty() ? 0 : math::median(std::span<double>(values));
}

FrameQuality quality_of(const FrameMeasure& m) {
  FrameQuality q;
  q.stars = static_cast<int>(m.list.stars.size());
  std::vector<Star> good;
  for (const Star& s : m.list.stars)
    if (s.flags == 0 && s.snr() > 20) good.push_back(s);
  q.good_stars = static_cast<int>(good.size());
  q.fwhm_px = median_over(good, &Star::fwhm_px);
  q.half_flux_radius_px = median_over(good, &Star::half_flux_radius_px);
  q.eccentricity = median_over(good, &Star::eccentricity);
  q.background = m.background.median_level();
  q.noise = m.background.median_noise();
  return q;
}

// Who wants only the brightest need not separate the faintest: as long as there are plenty at half size, above a higher
// threshold.
Result<std::vector<Detection>> detect_enough(View<const float> image, const BackgroundMap& background,
                                             const HalfSize& half, const DetectOptions& options, int max_stars,
                                             const Context& ctx) {
  if (max_stars > 0) {
    DetectOptions bright = options;
    bright.threshold *= kPlentyThreshold;
    NG_TRY(auto found, detect(half.plane(), nullptr, at_half_size(bright, background), ctx));
    const auto plenty = 4 * static_cast<std::size_t>(max_stars);
    if (found.size() >= plenty) return at_full_size(std::move(found), image, plenty);
  }
  return detect(image, &background, options, ctx);
}

}  // namespace

Result<FrameMeasure> measure_frame(View<const float> image, const MeasureOptions& options, const Context& ctx) {
  FrameMeasure m;
  NG_TRY(m.background, measure_background(image, options.background, ctx));
  NG_TRY(const HalfSize half, half_size(image, m.background, ctx));
  NG_TRY(double fwhm, first_guess_of_width(image, m.background, half, options, ctx));
  if (fwhm <= 0) fwhm = kFallbackFwhm;

  const DetectOptions detecting = detect_options(options, std::clamp(fwhm / 2.3548, 0.7, 12.0));
  NG_TRY(std::vector<Detection> detections,
         detect_enough(image, m.background, half, detecting, options.max_stars, ctx));

  const PixelNoise typical{options.noise_correlation * m.background.median_noise(), options.electrons_per_unit,
                           options.saturation};
  const FrameProfile shared = frame_profile(image, m.background, detections, typical, fwhm);
  m.profile = shared.profile;
  m.has_profile = shared.stars > 0;

  if (options.trails) {
    const std::vector<Disc> discs = discs_of(detections, detecting, m.profile.fwhm_px());
    NG_TRY(m.trails,
           find_trails(image, m.background, half, discs,
                       {.fwhm_px = m.profile.fwhm_px(), .noise_correlation = options.noise_correlation}, ctx));
  }
  if (options.max_stars > 0 && detections.size() > static_cast<std::size_t>(options.max_stars))
    detections.resize(static_cast<std::size_t>(options.max_stars));
  const StarFitter fitter(image, options, m, detections, m.profile.fwhm_px());
  std::vector<Star> stars(detections.size());
  constexpr std::size_t kChunk = 32;
  const int chunks = static_cast<int>((detections.size() + kChunk - 1) / kChunk);
  NG_CHECK(parallel_for(ctx, chunks, [&](int chunk) {
    const std::size_t begin = static_cast<std::size_t>(chunk) * kChunk;
    for (std::size_t i = begin; i < std::min(begin + kChunk, stars.size()); ++i) stars[i] = fitter.fit(i);
  }));
  std::erase_if(stars, [](const Star& s) { return !(s.flux > 0); });
  std::stable_sort(stars.begin(), stars.end(), [](const Star& a, const Star& b) { return a.flux > b.flux; });
  m.list = {image.width, image.height, std::move(stars)};
  m.quality = quality_of(m);
  return m;
}

}  // namespace ng::measure
