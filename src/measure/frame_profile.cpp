#include "measure/frame_profile.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/robust.h"

namespace ng::measure {
namespace {

struct Peak {
  int x, y;
  float value;  // above the background
};

// Highest finite pixel of the 3 x 3 around a detection.
Peak highest_pixel(View<const float> image, double background, int x0, int y0) {
  Peak best{x0, y0, -1e30f};
  for (int y = std::max(0, y0 - 1); y <= std::min(image.height - 1, y0 + 1); ++y) {
    for (int x = std::max(0, x0 - 1); x <= std::min(image.width - 1, x0 + 1); ++x) {
      const float v = image(x, y) - static_cast<float>(background);
      if (v > best.value) best = {x, y, v};
    }
  }
  return best;
}

// Mean full width at half maximum along x and y: from the peak outwards until half of it is passed, linear between
// pixels. Neighbours do not disturb it. 0 when a border or a gap comes first.
double width_at_half(View<const float> image, double background, const Peak& peak) {
  constexpr int kReach = 40;
  const double half = 0.5 * peak.value;
  double sum = 0;
  for (const auto& [dx, dy] : {std::pair{1, 0}, std::pair{-1, 0}, std::pair{0, 1}, std::pair{0, -1}}) {
    double before = peak.value;
    for (int k = 1;; ++k) {
      const int x = peak.x + k * dx;
      const int y = peak.y + k * dy;
      if (k > kReach || x < 0 || y < 0 || x >= image.width || y >= image.height) return 0;
      const double v = image(x, y) - background;
      if (std::isnan(v)) return 0;
      if (v <= half) {
        sum += k - 1 + (before - half) / (before - v);
        break;
      }
      before = v;
    }
  }
  return sum / 2;
}

// Has no neighbour within the radius that is worth minding.
bool alone(std::span<const Detection> brightest_first, const Detection& d, double radius) {
  for (const Detection& other : brightest_first) {
    if (other.significance < 0.02f * d.significance) return true;
    if (&other == &d) continue;
    const double dx = other.x - d.x, dy = other.y - d.y;
    if (dx * dx + dy * dy <= radius * radius) return false;
  }
  return true;
}

}  // namespace

double neighbour_ratio(View<const float> image, double background, int x, int y) {
  const Peak peak = highest_pixel(image, background, x, y);
  if (!(peak.value > 0)) return 0;
  double sum = 0;
  int n = 0;
  for (const auto& [dx, dy] : {std::pair{1, 0}, std::pair{-1, 0}, std::pair{0, 1}, std::pair{0, -1}}) {
    const int px = peak.x + dx;
    const int py = peak.y + dy;
    if (px < 0 || py < 0 || px >= image.width || py >= image.height || std::isnan(image(px, py))) continue;
    sum += image(px, py) - background;
    ++n;
  }
  return n > 0 ? sum / n / peak.value : 0;
}

double rough_fwhm(View<const float> image, const BackgroundMap& background, std::span<const Detection> detections,
                  double saturation) {
  std::vector<float> widths;
  for (const Detection& d : detections) {
    if (widths.size() >= 200 || d.significance < 15) break;
    const double sky = background.level_at(d.x, d.y);
    const Peak peak = highest_pixel(image, sky, d.x, d.y);
    if (sky + peak.value >= saturation || neighbour_ratio(image, sky, d.x, d.y) < 0.15) continue;
    const double width = width_at_half(image, sky, peak);
    if (width > 0) widths.push_back(static_cast<float>(width));
  }
  return widths.size() < 3 ? 0.0 : math::median(std::span<float>(widths));
}

FrameProfile frame_profile(View<const float> image, const BackgroundMap& background,
                           std::span<const Detection> detections, const PixelNoise& noise, double fwhm_px) {
  FitStart start;
  start.radius_px = std::clamp(static_cast<int>(std::ceil(2.5 * fwhm_px)), 5, 40);
  std::vector<FitStart> chosen;
  for (const Detection& d : detections) {
    if (d.significance < 30 || chosen.size() >= 60) break;
    const int margin = start.radius_px;
    if (d.x < margin || d.y < margin || d.x >= image.width - margin || d.y >= image.height - margin) continue;
    const bool isolated = alone(detections, d, 1.5 * margin);
    const double sky = background.level_at(d.x, d.y);
    const Peak peak = highest_pixel(image, sky, d.x, d.y);
    if (!isolated || sky + peak.value >= 0.9 * noise.saturation || neighbour_ratio(image, sky, d.x, d.y) < 0.15)
      continue;
    start.x = d.x;
    start.y = d.y;
    start.background = sky;
    start.profile = Profile::round(fwhm_px, 3.5);
    start.flux = peak.value / start.profile.over_pixel(0, 0);
    chosen.push_back(start);
  }

  const auto usable = [&](const ProfileFit& fit) {
    return fit.converged && !fit.saturated && fit.profile.fwhm_px() > 0.4 * fwhm_px &&
           fit.profile.fwhm_px() < 2.5 * fwhm_px;
  };
  std::vector<double> inverse_beta;
  for (FitStart& s : chosen) {
    s.shape = Shape::kFreeBeta;
    const ProfileFit fit = fit_profile(image, noise, s, {});
    if (usable(fit)) inverse_beta.push_back(1 / fit.profile.beta);
  }
  FrameProfile result{Profile::round(fwhm_px, 3.5), 0};
  if (inverse_beta.size() >= 3) result.profile.beta = 1 / math::median(std::span<double>(inverse_beta));

  // Widths and axes combine as second moments do: medians of the inverse matrix.
  std::vector<double> sxx, syy, sxy;
  for (FitStart& s : chosen) {
    s.shape = Shape::kFree;
    s.profile = Profile::round(fwhm_px, result.profile.beta);
    const ProfileFit fit = fit_profile(image, noise, s, {});
    if (!usable(fit)) continue;
    const double det = fit.profile.determinant();
    sxx.push_back(fit.profile.cyy / det);
    syy.push_back(fit.profile.cxx / det);
    sxy.push_back(-fit.profile.cxy / det);
  }
  if (sxx.size() < 3) return result;
  const double xx = math::median(std::span<double>(sxx));
  const double yy = math::median(std::span<double>(syy));
  const double xy = math::median(std::span<double>(sxy));
  const double det = xx * yy - xy * xy;
  result.profile.cxx = yy / det;
  result.profile.cyy = xx / det;
  result.profile.cxy = -xy / det;
  result.stars = static_cast<int>(sxx.size());
  return result;
}

}  // namespace ng::measure
