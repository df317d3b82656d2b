// Rendering of frames, in bands of rows: no frame is ever whole in memory.
#include <algorithm>
#include <cmath>

#include "math/random.h"
#include "simulate/night.h"
#include "simulate/photon_noise.h"
#include "simulate/seeing_profile.h"
#include "simulate/streams.h"

namespace ng::simulate {
namespace {

constexpr int kBandRows = 64;
// A star is drawn out to where it gives so many electrons per pixel. What lies further out is below 0.3 % of the
// faintest stars and below 0.05 % of those that can be measured well (tested).
constexpr double kFaintestElectrons = 0.02;

// Frames of each kind have numbers of their own, so that their random numbers are too.
std::uint32_t frame_id(FrameKind kind, int filter, int number) {
  const auto n = static_cast<std::uint32_t>(number) + (static_cast<std::uint32_t>(filter) << 14);
  return (static_cast<std::uint32_t>(kind) << 20) + n;
}

}  // namespace

struct Night::Painted {
  StarPainter painter;
  std::vector<StarPainter::Spot> spots;
  std::vector<std::vector<int>> by_band;  // indices of spots, rising
  std::vector<float> nebula_scale;        // by channel, seconds x transparency
  math::PlaneMap to_sky;
};

Night::Painted Night::paint_stars(int light, bool with_air) const {
  const LightPlan& plan = lights_[static_cast<std::size_t>(light)];
  const auto& channels = bands_[static_cast<std::size_t>(plan.filter)];
  const int width = scenario_.camera.sensor.width, height = scenario_.camera.sensor.height;
  Painted painted{StarPainter(plan.profile), {}, {}, {}, plan.from_sky.inverse()};
  std::vector<double> scale;
  for (const BandChannel& c : channels) {
    scale.push_back(scenario_.exposures.light_s *
                    (with_air ? band_transparency(c, plan.airmass, plan.clearness) : 1.0));
    painted.nebula_scale.push_back(static_cast<float>(scale.back()));
  }
  painted.by_band.resize(static_cast<std::size_t>((height + kBandRows - 1) / kBandRows));
  for (const FieldStar& star : stars_) {
    const math::Point p = plan.from_sky.apply({star.xi_arcsec, star.eta_arcsec});
    StarPainter::Spot spot;
    spot.x = p.x;
    spot.y = p.y;
    double most = 0;
    for (std::size_t c = 0; c < channels.size(); ++c) {
      const double electrons = channels[c].star_e_s(star.v_mag, star.b_minus_v) * scale[c];
      spot.electrons[c] = static_cast<float>(electrons);
      most = std::max(most, electrons);
    }
    spot.radius_px = static_cast<float>(plan.profile.radius_px(most, kFaintestElectrons));
    const double r = spot.radius_px;
    if (p.x < -r || p.x > width - 1 + r || p.y < -r || p.y > height - 1 + r) continue;
    const int first =
        std::clamp(static_cast<int>(p.y - r) / kBandRows, 0, static_cast<int>(painted.by_band.size()) - 1);
    const int last = std::clamp(static_cast<int>(p.y + r) / kBandRows, 0, static_cast<int>(painted.by_band.size()) - 1);
    for (int b = first; b <= last; ++b)
      painted.by_band[static_cast<std::size_t>(b)].push_back(static_cast<int>(painted.spots.size()));
    painted.spots.push_back(spot);
  }
  return painted;
}

void Night::add_sources(const Painted& painted, int light, int y0, View<float> rows) const {
  const LightPlan& plan = lights_[static_cast<std::size_t>(light)];
  const auto& grids = nebula_[static_cast<std::size_t>(plan.filter)];
  if (!grids.empty()) {
    for (int y = 0; y < rows.height; ++y) {
      float* row = rows.row(y);
      for (int x = 0; x < rows.width; ++x) {
        const math::Point sky = painted.to_sky.apply({static_cast<double>(x), static_cast<double>(y0 + y)});
        const int c = channel_at(x, y0 + y);
        row[x] +=
            painted.nebula_scale[static_cast<std::size_t>(c)] * grids[static_cast<std::size_t>(c)].at(sky.x, sky.y);
      }
    }
  }
  const auto mono = [](int, int) { return 0; };
  const auto mosaic = [this](int x, int y) { return channel_at(x, y); };
  for (const int i : painted.by_band[static_cast<std::size_t>(y0 / kBandRows)]) {
    if (scenario_.is_mosaic()) {
      painted.painter.add(painted.spots[static_cast<std::size_t>(i)], y0, rows, mosaic);
    } else {
      painted.painter.add(painted.spots[static_cast<std::size_t>(i)], y0, rows, mono);
    }
  }
}

void Night::expose(std::uint32_t frame, int y0, View<const float> expected, const std::vector<CosmicRay>& hits,
                   View<std::uint16_t> out) const {
  const rig::Sensor& sensor = scenario_.camera.sensor;
  const auto n = static_cast<std::size_t>(expected.width);
  std::vector<float> normals(n * static_cast<std::size_t>(expected.height));
  Image<float> electrons(expected.width, expected.height);
  for (int y = 0; y < expected.height; ++y)
    draw_noise(scenario_.seed, stream(Stream::kPixels, frame, static_cast<std::uint32_t>(y0 + y)), {expected.row(y), n},
               {electrons.plane().row(y), n}, {normals.data() + static_cast<std::size_t>(y) * n, n});
  add_cosmic_rays(hits, y0, electrons.plane());
  camera_.add_telegraph(scenario_.seed, frame, y0, electrons.plane());

  const auto read_noise = static_cast<float>(sensor.read_noise_e), full = static_cast<float>(sensor.full_well_e);
  const auto per_electron = static_cast<float>(1 / sensor.gain_e_adu);
  const auto bend = static_cast<float>(scenario_.camera.curvature / sensor.full_well_e);
  const auto offset = static_cast<float>(sensor.offset_adu), top = static_cast<float>(sensor.largest_adu());
  const float* column = camera_.column_adu.data();
  for (int y = 0; y < expected.height; ++y) {
    const float* e = electrons.plane().row(y);
    const float* z = normals.data() + static_cast<std::size_t>(y) * n;
    std::uint16_t* stored = out.row(y);
    for (int x = 0; x < expected.width; ++x) {
      const float well = e[x] < full ? e[x] : full;
      const float held = well - bend * well * well;
      const float adu = (held + read_noise * z[x]) * per_electron + offset + column[x] + 0.5f;
      stored[x] = static_cast<std::uint16_t>(static_cast<std::int32_t>(adu < 0 ? 0 : adu > top ? top : adu));
    }
  }
}

Result<void> Night::render_light(int light, const Context& ctx, const RowSink& sink) const {
  const LightPlan& plan = lights_[static_cast<std::size_t>(light)];
  const LightTruth truth = light_truth(light);
  const Painted painted = paint_stars(light, true);
  const int width = scenario_.camera.sensor.width, height = scenario_.camera.sensor.height;
  const auto seconds = static_cast<float>(scenario_.exposures.light_s);
  const View<const float> response = camera_.response[static_cast<std::size_t>(plan.filter)].plane();
  const double half = std::hypot(width / 2.0, height / 2.0);
  const double gx = std::cos(plan.gradient_rad) / half, gy = std::sin(plan.gradient_rad) / half;

  Image<float> expected(width, kBandRows);
  Image<std::uint16_t> stored(width, kBandRows);
  for (int y0 = 0; y0 < height; y0 += kBandRows) {
    if (ctx.cancelled()) return Error(Code::kCancelled, "stopped");
    const int rows = std::min(kBandRows, height - y0);
    const View<float> band = expected.plane().rows(0, rows);
    for (int y = 0; y < rows; ++y) {
      float* row = band.row(y);
      for (int x = 0; x < width; ++x) {
        // Along the gradient the sky grows, a little faster towards its bright end.
        const double along = (x - (width - 1) / 2.0) * gx + (y0 + y - (height - 1) / 2.0) * gy;
        const double shape = 1 + plan.gradient * along * (1 + 0.3 * along);
        row[x] = static_cast<float>(truth.sky_e[static_cast<std::size_t>(channel_at(x, y0 + y))] * shape);
      }
    }
    add_sources(painted, light, y0, band);
    for (const SatelliteTrail& trail : truth.satellites) add_satellite(trail, y0, band);
    for (int y = 0; y < rows; ++y) {
      float* row = band.row(y);
      const float *r = response.row(y0 + y), *dark = camera_.dark_e_s.plane().row(y0 + y);
      for (int x = 0; x < width; ++x) row[x] = row[x] * r[x] + seconds * dark[x];
    }
    expose(static_cast<std::uint32_t>(light), y0, band, truth.cosmic_rays, stored.plane().rows(0, rows));
    NG_CHECK(sink(y0, stored.plane().rows(0, rows)));
  }
  return {};
}

Result<void> Night::render_calibration(FrameKind kind, int filter, int number, const Context& ctx,
                                       const RowSink& sink) const {
  const std::uint32_t frame = frame_id(kind, filter, number);
  const int width = scenario_.camera.sensor.width, height = scenario_.camera.sensor.height;
  const bool lit = kind == FrameKind::kFlat;
  double seconds = 0;
  if (kind == FrameKind::kDark) seconds = scenario_.exposures.dark_seconds(number);
  if (kind == FrameKind::kDarkFlat) seconds = scenario_.exposures.flat_s;
  if (lit) seconds = scenario_.exposures.flat_seconds(number);
  // The lamp changes a little from flat to flat.
  math::Random lamp(scenario_.seed, stream(Stream::kPlan, frame));
  const auto level =
      static_cast<float>(lit ? flat_level_e(number) * (1 + scenario_.exposures.lamp_scatter * lamp.normal()) : 0);
  const auto time = static_cast<float>(seconds);
  const std::vector<CosmicRay> hits = draw_cosmic_rays(scenario_, frame, seconds);
  const auto& channels = bands_[static_cast<std::size_t>(filter)];
  // Through a mosaic a white lamp fills the green pixels most.
  std::vector<float> share(channels.size(), 1.0f);
  if (scenario_.is_mosaic()) share = {0.62f, 1.0f, 0.71f};

  Image<float> expected(width, kBandRows);
  Image<std::uint16_t> stored(width, kBandRows);
  for (int y0 = 0; y0 < height; y0 += kBandRows) {
    if (ctx.cancelled()) return Error(Code::kCancelled, "stopped");
    const int rows = std::min(kBandRows, height - y0);
    for (int y = 0; y < rows; ++y) {
      float* row = expected.plane().row(y);
      const float *r = camera_.response[static_cast<std::size_t>(filter)].plane().row(y0 + y),
                  *dark = camera_.dark_e_s.plane().row(y0 + y);
      for (int x = 0; x < width; ++x)
        row[x] = (lit ? level * share[static_cast<std::size_t>(channel_at(x, y0 + y))] * r[x] : 0) + time * dark[x];
    }
    expose(frame, y0, expected.plane().rows(0, rows), hits, stored.plane().rows(0, rows));
    NG_CHECK(sink(y0, stored.plane().rows(0, rows)));
  }
  return {};
}

Result<void> Night::render_truth(int light, const Context& ctx, const FloatRowSink& sink) const {
  const Painted painted = paint_stars(light, false);
  const int width = scenario_.camera.sensor.width, height = scenario_.camera.sensor.height;
  Image<float> expected(width, kBandRows);
  for (int y0 = 0; y0 < height; y0 += kBandRows) {
    if (ctx.cancelled()) return Error(Code::kCancelled, "stopped");
    const View<float> band = expected.plane().rows(0, std::min(kBandRows, height - y0));
    expected.fill(0);
    add_sources(painted, light, y0, band);
    NG_CHECK(sink(y0, band));
  }
  return {};
}

}  // namespace ng::simulate
