#include "app/sensor_chart.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "app/plot_axes.h"
#include "diagnose/dark_current.h"

namespace ng::app {
namespace {

namespace palette = io::palette;

constexpr double kWidth = 1400, kHeight = 1060, kPlotW = 540, kPlotH = 370;
constexpr double kLeft = 105, kRight = 805, kUpper = 120, kLower = 605;
constexpr std::array kColours{palette::kBlue,      palette::kOrange, palette::kGreen,
                              palette::kVermilion, palette::kPurple, palette::kBlack};

io::Colour colour(std::size_t i) {
  return kColours[i % kColours.size()];
}

std::string name_of(const SensorSetting& s) {
  return s.gain_setting ? fmt::format("gain {:g}", *s.gain_setting) : "gain not named";
}

// Names of the settings, one below the other, in their colours.
void legend(Plot& plot, const SensorReply& reply) {
  for (std::size_t i = 0; i < reply.settings.size() && i < 14; ++i)
    plot.words(0.03, 0.93 - 0.06 * static_cast<double>(i), name_of(reply.settings[i]), colour(i));
}

void transfer(io::Canvas& canvas, const SensorReply& reply) {
  PlotAxis x("signal above the bias, ADU", true), y("temporal variance, ADU²", true);
  for (const SensorSetting& s : reply.settings)
    for (const SensorPoint& p : s.all.points) {
      x.hold(p.signal_adu);
      y.hold(p.variance_adu2);
    }
  x.finish();
  y.finish();
  Plot plot(canvas, {kLeft, kUpper}, kPlotW, kPlotH, x, y);
  plot.axes("Photon transfer: filled points make the gain");
  for (std::size_t i = 0; i < reply.settings.size(); ++i) {
    const SensorChannel& a = reply.settings[i].all;
    for (const SensorPoint& p : a.points) {
      if (p.used) {
        plot.disc(p.signal_adu, p.variance_adu2, 3.5, colour(i));
      } else {
        plot.ring(p.signal_adu, p.variance_adu2, 3.5, colour(i));
      }
    }
    if (!a.gain_e_adu || a.points.empty()) continue;
    const double g = a.gain_e_adu->value, step = reply.settings[i].step_adu;
    const double dark = a.read_noise_e ? std::pow(a.read_noise_e->value / g, 2) + step * step / 12 : 0;
    const double top = a.full_well_e ? a.full_well_e->value / g : x.high;
    std::vector<io::Spot> curve;
    for (int k = 0; k <= 60; ++k) {
      const double signal = x.low * std::pow(std::min(top, x.high) / x.low, k / 60.0);
      curve.push_back({signal, std::max(dark + signal / g, y.low)});
    }
    plot.line(curve, {colour(i), 1, false});
  }
  legend(plot, reply);
}

void deviations(io::Canvas& canvas, const SensorReply& reply) {
  PlotAxis x("exposure, s", true), y("level off the straight line, %");
  const auto each = [&](const auto& take) {
    for (std::size_t i = 0; i < reply.settings.size(); ++i) {
      const SensorSetting& s = reply.settings[i];
      if (s.channels.empty()) take(i, s.all);
      for (const SensorChannel& c : s.channels) take(i, c);
    }
  };
  y.hold(-0.1);
  y.hold(0.1);
  each([&](std::size_t, const SensorChannel& c) {
    for (std::size_t k = 0; k < c.deviation_percent.size(); ++k) {
      x.hold(c.deviation_exposure_s[k]);
      y.hold(c.deviation_percent[k]);
    }
  });
  x.finish();
  y.finish();
  Plot plot(canvas, {kRight, kUpper}, kPlotW, kPlotH, x, y);
  plot.axes("Linearity");
  plot.line({{x.low, 0}, {x.high, 0}}, {palette::kBlack, 1, true});
  each([&](std::size_t i, const SensorChannel& c) {
    std::vector<io::Spot> curve;
    for (std::size_t k = 0; k < c.deviation_percent.size(); ++k) {
      curve.push_back({c.deviation_exposure_s[k], c.deviation_percent[k]});
      plot.disc(curve.back().x, curve.back().y, 3, colour(i));
    }
    plot.line(curve, {colour(i).with_opacity(0.5), 1, false});
  });
}

void gains(io::Canvas& canvas, const SensorReply& reply) {
  PlotAxis x("full well, e-", true), y("read noise, e-");
  y.hold(0);
  for (const SensorSetting& s : reply.settings) {
    if (!s.all.full_well_e || !s.all.read_noise_e) continue;
    x.hold(s.all.full_well_e->value);
    y.hold(s.all.read_noise_e->value);
  }
  x.finish();
  y.finish();
  Plot plot(canvas, {kLeft, kLower}, kPlotW, kPlotH, x, y);
  plot.axes("Read noise and full well");
  for (std::size_t i = 0; i < reply.settings.size(); ++i) {
    const SensorChannel& a = reply.settings[i].all;
    if (!a.full_well_e || !a.read_noise_e) continue;
    plot.bar(a.full_well_e->value, a.read_noise_e->value - a.read_noise_e->error,
             a.read_noise_e->value + a.read_noise_e->error, colour(i));
    if (a.full_well_is_limit) {
      plot.ring(a.full_well_e->value, a.read_noise_e->value, 6, colour(i));
    } else {
      plot.disc(a.full_well_e->value, a.read_noise_e->value, 6, colour(i));
    }
  }
  legend(plot, reply);
}

void dark_currents(io::Canvas& canvas, const SensorReply& reply) {
  PlotAxis x("sensor, °C"), y("dark current of the usual pixel, e-/s", true);
  for (const SensorSetting& s : reply.settings)
    for (const SensorTemperature& t : s.temperatures)
      if (t.known && t.dark_e_s && t.dark_e_s->value > 0) {
        x.hold(t.temperature_c);
        y.hold(t.dark_e_s->value);
      }
  x.finish();
  y.finish();
  Plot plot(canvas, {kRight, kLower}, kPlotW, kPlotH, x, y);
  plot.axes("Dark current");
  for (std::size_t i = 0; i < reply.settings.size(); ++i) {
    const SensorSetting& s = reply.settings[i];
    for (const SensorTemperature& t : s.temperatures) {
      if (!t.known || !t.dark_e_s || t.dark_e_s->value <= 0) continue;
      const double low = t.dark_e_s->value - t.dark_e_s->error;
      plot.bar(t.temperature_c, std::max(low, y.low), t.dark_e_s->value + t.dark_e_s->error, colour(i));
      plot.disc(t.temperature_c, t.dark_e_s->value, 5, colour(i));
    }
    if (!s.law) continue;
    const double from = s.temperatures.front().temperature_c, to = s.temperatures.back().temperature_c;
    std::vector<io::Spot> curve;
    for (int k = 0; k <= 40; ++k) {
      const double c = from + (to - from) * k / 40;
      curve.push_back({c, diagnose::law_rate(s.law->energy_ev.value, s.law->middle_c, s.law->e_s_there.value, c)});
    }
    plot.line(curve, {colour(i), 1, false});
    plot.words(0.03, 0.93 - 0.06 * static_cast<double>(i),
               fmt::format("{}: doubles every {:.2f} ± {:.2f} °C", name_of(s), s.law->doubling_c.value,
                           s.law->doubling_c.error),
               colour(i));
  }
}

}  // namespace

Result<void> draw_sensor_chart(const SensorReply& reply, const std::filesystem::path& path, io::Overwrite overwrite) {
  NG_TRY(io::Canvas canvas,
         io::Canvas::create(path, static_cast<int>(kWidth), static_cast<int>(kHeight), palette::kPaper));
  const SensorSetting& first = reply.settings.front();
  canvas.text({16, 38}, first.camera.empty() ? "Camera" : first.camera,
              {25, palette::kBlack, io::Anchor::kLeft, true, 0});
  canvas.text({16, 66}, fmt::format("{} x {} pixels, measured after EMVA 1288", first.width, first.height),
              {15, palette::kGrey, io::Anchor::kLeft, false, 0});
  transfer(canvas, reply);
  deviations(canvas, reply);
  gains(canvas, reply);
  dark_currents(canvas, reply);
  return canvas.commit(overwrite);
}

}  // namespace ng::app
