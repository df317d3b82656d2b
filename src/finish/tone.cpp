#include "finish/tone.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/parallel.h"
#include "finish/sampling.h"
#include "finish/srgb.h"
#include "math/robust.h"

namespace ng::finish {
namespace {

constexpr int kBlock = 16;
constexpr float kTiny = 1e-20f;

// Lowest (or highest) of the 3 x 3 cells around each.
template <typename Pick>
Image<float> neighbours(View<const float> cells, const Pick& pick) {
  Image<float> out(cells.width, cells.height);
  for (int y = 0; y < cells.height; ++y) {
    for (int x = 0; x < cells.width; ++x) {
      float best = cells(x, y);
      for (int ny = std::max(0, y - 1); ny <= std::min(cells.height - 1, y + 1); ++ny)
        for (int nx = std::max(0, x - 1); nx <= std::min(cells.width - 1, x + 1); ++nx)
          best = pick(best, cells(nx, ny));
      out.plane()(x, y) = best;
    }
  }
  return out;
}

// Level of the brightest hundredth of the field, stars left out: medians of small blocks, and of those only what is at
// least three blocks wide (a morphological opening), for the halo of a bright star fills a block or two.
double nebula_level(View<const float> image) {
  const int columns = image.width / kBlock;
  const int rows = image.height / kBlock;
  if (columns < 3 || rows < 3) return 0;
  Image<float> medians(columns, rows);
  std::vector<float> block;
  for (int row = 0; row < rows; ++row) {
    for (int column = 0; column < columns; ++column) {
      block.clear();
      for (int y = row * kBlock; y < (row + 1) * kBlock; y += 2)
        for (int x = column * kBlock; x < (column + 1) * kBlock; x += 2) block.push_back(image(x, y));
      medians.plane()(column, row) = math::median(block);
    }
  }
  const auto lowest = neighbours(medians.plane(), [](float a, float b) { return std::min(a, b); });
  const auto opened = neighbours(lowest.plane(), [](float a, float b) { return std::max(a, b); });
  std::vector<float> values = sample(opened.plane(), columns * rows);
  return static_cast<double>(math::quantile(values, 0.99));
}

// The bend that brings `sky` to `target` of the way from black (0) to white (1). Grows with the bend, so bisection.
double bend_for(double black, double white, double sky, double target) {
  double low = 1e-6 / (white - black);
  double high = 1e7 / (white - black);
  for (int i = 0; i < 200 && high / low > 1 + 1e-12; ++i) {
    const double middle = std::sqrt(low * high);
    (ToneCurve::between(black, white, middle)(sky) < target ? low : high) = middle;
  }
  return std::sqrt(low * high);
}

}  // namespace

double ToneCurve::operator()(double brightness) const {
  return scale * std::asinh(bend * (brightness - black));
}

ToneCurve ToneCurve::between(double black, double white, double bend) {
  return {black, bend, 1 / std::asinh(bend * (white - black))};
}

ToneChoice choose_tone(View<const float> brightness, const ToneOptions& options) {
  std::vector<float> values = sample(brightness, 1000000);
  ToneChoice choice;
  if (values.empty()) return choice;
  choice.white = static_cast<double>(math::quantile(values, options.white_quantile));
  const math::SkyLevel sky = math::sky_level(values);
  choice.sky = static_cast<double>(sky.level);
  choice.noise = std::max(static_cast<double>(sky.sigma), 1e-9 * std::fabs(choice.white) + 1e-20);
  choice.white = std::max(choice.white, choice.sky + 10 * choice.noise);
  const double nebula = nebula_level(brightness);
  const double target = srgb_decode(options.sky_display);
  const double wanted = srgb_decode(options.nebula_display);
  // A nebula of 3 sigma per pixel is plainly there, one of 1 sigma hardly.
  const double plain = std::clamp(0.5 * ((nebula - choice.sky) / choice.noise - 1), 0.0, 1.0);
  const double nearest = options.empty_black_sigmas + plain * (options.min_black_sigmas - options.empty_black_sigmas);
  // The further below the sky black lies, the fainter the grain, and the nebula: take the furthest that still shows it.
  for (double sigmas = options.max_black_sigmas;; sigmas /= 1.05) {
    sigmas = std::max(sigmas, nearest);
    const double black = choice.sky - sigmas * choice.noise;
    choice.curve = ToneCurve::between(black, choice.white, bend_for(black, choice.white, choice.sky, target));
    const bool sky_fits = choice.curve(choice.sky) <= 1.02 * target;  // else even a straight line leaves it too bright
    if ((sky_fits && choice.curve(nebula) >= wanted) || sigmas <= nearest) return choice;
  }
}

Result<void> apply_tone(std::span<const View<float>> planes, const ToneCurve& curve, double saturation,
                        const Context& ctx) {
  const int width = planes[0].width;
  const auto black = static_cast<float>(curve.black);
  const auto bend = static_cast<float>(curve.bend);
  const auto scale = static_cast<float>(curve.scale);
  const auto colour = static_cast<float>(saturation);
  if (planes.size() == 1)
    return parallel_for(ctx, planes[0].height, [&](int y) {
      float* row = planes[0].row(y);
      for (int x = 0; x < width; ++x) row[x] = std::clamp(scale * std::asinh(bend * (row[x] - black)), 0.0f, 1.0f);
    });
  return parallel_for(ctx, planes[0].height, [&](int y) {
    float* r = planes[0].row(y);
    float* g = planes[1].row(y);
    float* b = planes[2].row(y);
    for (int x = 0; x < width; ++x) {
      const float brightness = (r[x] + g[x] + b[x]) * (1.0f / 3) - black;
      if (!(brightness > 0)) {
        r[x] = g[x] = b[x] = 0;
        continue;
      }
      const float light = scale * std::asinh(bend * brightness);
      const float factor = light / brightness;
      // What is added to saturation dwindles as the weakest channel falls from half of the brightness to nothing.
      const float weakest = (std::min({r[x], g[x], b[x]}) - black) * factor;
      const float room = std::clamp(2 * weakest / (light + kTiny), 0.0f, 1.0f);
      const float wanted = colour > 1 ? 1 + (colour - 1) * room : colour;
      const float t = std::clamp((light - 0.6f) * 2.5f, 0.0f, 1.0f);
      const float keep = wanted * (1 - 0.5f * t * t * (3 - 2 * t));
      const auto toned = [&](float v) { return std::max(0.0f, light + keep * ((v - black) * factor - light)); };
      const float red = toned(r[x]);
      const float green = toned(g[x]);
      const float blue = toned(b[x]);
      const float over = std::max({1.0f, red, green, blue});
      r[x] = red / over;
      g[x] = green / over;
      b[x] = blue / over;
    }
  });
}

}  // namespace ng::finish
