#include "simulate/camera_maps.h"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "base/angle.h"
#include "base/parallel.h"
#include "math/random.h"
#include "simulate/photon_noise.h"
#include "simulate/streams.h"

namespace ng::simulate {
namespace {

constexpr double kDarkScatter = 0.12;  // log-normal width of ordinary pixels
constexpr double kHotMedian = 25;      // median of the tail, in dark currents of an ordinary pixel
constexpr double kHotScatter = 1.3;    // log-normal width of the tail
constexpr double kHotListed = 10;      // a pixel is listed as hot above so many ordinary dark currents
constexpr double kColdShare = 1.2e-5;

// Glow of the read-out amplifier: falls off exponentially from the lower right corner.
double glow(const Scenario& s, int x, int y) {
  const double w = s.camera.sensor.width, h = s.camera.sensor.height;
  const double away = std::hypot((w - 1 - x) / w, 1.3 * (h - 1 - y) / w);
  return s.camera.glow_e_s * std::exp(-away / 0.055);
}

std::vector<DustShadow> draw_dust(const Scenario& s) {
  math::Random random(s.seed, stream(Stream::kDust));
  const rig::Sensor& sensor = s.camera.sensor;
  std::vector<DustShadow> dust;
  for (int i = 0; i < s.camera.dust_shadows; ++i) {
    // A grain at a distance d from the chip throws a shadow d / focal ratio wide: 2 to 6 mm on the window, 14 to 22 mm
    // on a filter.
    const bool on_filter = i % 3 == 2;
    const double distance_mm = on_filter ? 14 + 8 * random.uniform() : 2 + 4 * random.uniform();
    DustShadow shadow;
    shadow.x = sensor.width * random.uniform();
    shadow.y = sensor.height * random.uniform();
    shadow.radius_px = distance_mm / s.optics.focal_ratio() / 2 * 1000 / sensor.pixel_um;
    shadow.inner_px = shadow.radius_px * (0.25 + 0.2 * random.uniform());
    shadow.depth = (on_filter ? 0.02 : 0.05) + 0.05 * random.uniform();
    const double choice = random.uniform() * static_cast<double>(s.filters.size());
    shadow.filter = on_filter ? static_cast<int>(choice) : -1;
    dust.push_back(shadow);
  }
  return dust;
}

// Steps from 5 times the read noise, few of them large.
std::vector<TelegraphPixel> draw_telegraph(const Scenario& s) {
  math::Random random(s.seed, stream(Stream::kTelegraph));
  const rig::Sensor& sensor = s.camera.sensor;
  const auto count = std::llround(s.camera.telegraph_pixels * sensor.width * static_cast<double>(sensor.height));
  std::vector<TelegraphPixel> pixels;
  for (std::int64_t i = 0; i < count; ++i) {
    TelegraphPixel p;
    p.x = std::min(sensor.width - 1, static_cast<int>(sensor.width * random.uniform()));
    p.y = std::min(sensor.height - 1, static_cast<int>(sensor.height * random.uniform()));
    p.step_e = 5 * sensor.read_noise_e * (1 - std::log(1 - random.uniform()));
    p.share = 0.25 + 0.5 * random.uniform();
    pixels.push_back(p);
  }
  std::sort(pixels.begin(), pixels.end(),
            [](const TelegraphPixel& a, const TelegraphPixel& b) { return std::tie(a.y, a.x) < std::tie(b.y, b.x); });
  return pixels;
}

void shade(View<float> map, const DustShadow& d) {
  const double reach = d.radius_px * 1.3;
  const int x0 = std::max(0, static_cast<int>(d.x - reach)),
            x1 = std::min(map.width - 1, static_cast<int>(d.x + reach));
  const int y0 = std::max(0, static_cast<int>(d.y - reach)),
            y1 = std::min(map.height - 1, static_cast<int>(d.y + reach));
  for (int y = y0; y <= y1; ++y)
    for (int x = x0; x <= x1; ++x) map(x, y) *= static_cast<float>(dust_transmission(d, std::hypot(x - d.x, y - d.y)));
}

double median_of(const Image<float>& map) {
  std::vector<float> sample;
  for (int y = 0; y < map.height(); y += 7)
    for (int x = y % 5; x < map.width(); x += 5) sample.push_back(map.plane()(x, y));
  const auto middle = sample.begin() + static_cast<std::ptrdiff_t>(sample.size() / 2);
  std::nth_element(sample.begin(), middle, sample.end());
  return *middle;
}

double mean_of(const Image<float>& map) {
  double sum = 0;
  for (int y = 0; y < map.height(); ++y) {
    double row = 0;
    for (int x = 0; x < map.width(); ++x) row += map.plane()(x, y);
    sum += row;
  }
  return sum / (static_cast<double>(map.width()) * map.height());
}

}  // namespace

double vignetting(double loss_in_corner, double r) {
  const double q = r * r;
  return 1 - loss_in_corner * (0.55 * q + 0.45 * q * q * q);
}

double dust_transmission(const DustShadow& d, double distance_px) {
  const auto edge = [&](double radius, double softness) {  // 1 inside, 0 outside
    const double t = std::clamp(0.5 - (distance_px - radius) / (2 * softness * d.radius_px), 0.0, 1.0);
    return t * t * (3 - 2 * t);
  };
  return 1 - d.depth * (edge(d.radius_px, 0.12) - 0.6 * edge(d.inner_px, 0.15));
}

void CameraMaps::add_telegraph(std::uint64_t seed, std::uint32_t frame, int y0, View<float> electrons) const {
  const auto first = std::lower_bound(telegraph.begin(), telegraph.end(), y0,
                                      [](const TelegraphPixel& p, int row) { return p.y < row; });
  for (auto p = first; p != telegraph.end() && p->y < y0 + electrons.height; ++p) {
    math::Random random(seed, stream(Stream::kTelegraph, frame + 1, static_cast<std::uint32_t>(p - telegraph.begin())));
    if (random.uniform() < p->share) electrons(p->x, p->y - y0) += static_cast<float>(p->step_e);
  }
}

Result<CameraMaps> make_camera_maps(const Scenario& s, const Context& ctx) {
  const rig::Sensor& sensor = s.camera.sensor;
  const int width = sensor.width, height = sensor.height;
  const double ordinary = sensor.dark_rate_e_s(s.camera.temperature_c);
  CameraMaps maps;
  maps.dark_e_s = Image<float>(width, height);
  maps.dust = draw_dust(s);
  Image<float> pixel_response(width, height);

  ctx.begin("making the camera", height);
  NG_CHECK(parallel_for(ctx, height, [&](int y) {
    const auto n = static_cast<std::size_t>(width);
    std::vector<float> none(n, 0.0f), unused(n), sensitivity(n), dark(n);
    const auto row = static_cast<std::uint32_t>(y);
    draw_noise(s.seed, stream(Stream::kSensor, 0, row), none, unused, sensitivity);
    draw_noise(s.seed, stream(Stream::kSensor, 1, row), none, unused, dark);
    float* d = maps.dark_e_s.plane().row(y);
    float* r = pixel_response.plane().row(y);
    for (int x = 0; x < width; ++x) {
      d[x] = static_cast<float>(ordinary * std::exp(kDarkScatter * dark[x]) + glow(s, x, y));
      const double away =
          std::hypot(x - (width - 1) / 2.0, y - (height - 1) / 2.0) / std::hypot(width / 2.0, height / 2.0);
      r[x] = static_cast<float>((1 + s.camera.pixel_scatter * sensitivity[x]) * vignetting(s.camera.vignetting, away));
    }
    ctx.advance();
  }));

  math::Random random(s.seed, stream(Stream::kHotPixels));
  const double pixels = static_cast<double>(width) * height;
  const auto any = [&](int size) { return std::min(size - 1, static_cast<int>(size * random.uniform())); };
  const auto defects = static_cast<std::int64_t>(std::llround(s.camera.hot_pixels * pixels));
  for (std::int64_t i = 0; i < defects; ++i) {
    const int x = any(width), y = any(height);
    const double rate = ordinary * kHotMedian * std::exp(kHotScatter * random.normal());
    float& there = maps.dark_e_s.plane()(x, y);
    if (rate > there) there = static_cast<float>(rate);
    if (rate > kHotListed * ordinary) maps.hot.push_back({x, y, there});
  }
  // A pixel that was hit twice is one hot pixel.
  std::sort(maps.hot.begin(), maps.hot.end(), [](const HotPixel& a, const HotPixel& b) {
    return std::tuple(a.y, a.x, -a.rate_e_s) < std::tuple(b.y, b.x, -b.rate_e_s);
  });
  maps.hot.erase(std::unique(maps.hot.begin(), maps.hot.end(),
                             [](const HotPixel& a, const HotPixel& b) { return a.x == b.x && a.y == b.y; }),
                 maps.hot.end());
  const auto cold = static_cast<std::int64_t>(std::llround(kColdShare * pixels));
  for (std::int64_t i = 0; i < cold; ++i) {
    const ColdPixel c{any(width), any(height), 0.75 * random.uniform()};
    pixel_response.plane()(c.x, c.y) *= static_cast<float>(c.sensitivity);
    maps.cold.push_back(c);
  }
  maps.telegraph = draw_telegraph(s);
  for (int x = 0; x < width; ++x)
    maps.column_adu.push_back(static_cast<float>(s.camera.column_scatter_adu * random.normal()));

  for (std::size_t f = 0; f < s.filters.size(); ++f) {
    Image<float> response = f + 1 < s.filters.size() ? pixel_response.clone() : std::move(pixel_response);
    for (const DustShadow& d : maps.dust)
      if (d.filter < 0 || d.filter == static_cast<int>(f)) shade(response.plane(), d);
    maps.mean_response.push_back(mean_of(response));
    maps.median_response.push_back(median_of(response));
    maps.response.push_back(std::move(response));
  }
  return maps;
}

}  // namespace ng::simulate
