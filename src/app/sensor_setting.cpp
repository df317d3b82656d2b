#include "app/sensor_setting.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "app/sensor_channel.h"
#include "app/sensor_dark.h"
#include "app/sensor_pixels.h"
#include "app/sensor_spatial.h"
#include "diagnose/pixel_defects.h"

namespace ng::app {
namespace {

using diagnose::CellNoise;
using diagnose::DarkNoise;
using diagnose::FrameStack;

constexpr double kFlickerTold = 0.005, kLampTold = 0.05;
constexpr double kHalf = 0.5;  // of saturation: where the PRNU is measured
constexpr double kFarFromHalf = 0.8, kSameLevel = 0.05;

class Measuring {
 public:
  Measuring(std::vector<InputFrame>& frames, const SensorGroup& group, const SensorRequest& request, const Context& ctx)
      : frames_(frames), group_(group), request_(request), ctx_(ctx) {
    const FrameFacts& facts = frames[group.first].facts();
    bayer_ = facts.mosaic(request.bayer);
    mosaic_ = bayer_.has_value();
    SensorSetting& s = out_.figures;
    s.camera = facts.camera;
    s.gain_setting = facts.gain_setting;
    s.offset_setting = facts.offset_setting;
    s.width = facts.width;
    s.height = facts.height;
    s.binning = facts.binning_x;
    s.all.name = "all";
    cells_.resize(mosaic_ ? 4 : 1);
  }

  Result<MeasuredSetting> run() {
    NG_CHECK(bias());
    NG_CHECK(flats());
    channels();
    NG_CHECK(spatial());
    NG_CHECK(darks());
    put_law(out_.figures);
    finish_defects();
    return std::move(out_);
  }

 private:
  struct Cell {
    double variance = 0, pixels = 0;  // of bias pairs, weighted sums
    double level = 0, levels = 0;
    std::vector<diagnose::TransferPoint> points;
  };

  struct LitPair {
    std::size_t a = 0, b = 0, climate = 0;
    double centre_adu = 0;  // of green in a mosaic
  };

  void flag(std::string text) { out_.figures.flags.push_back(std::move(text)); }
  [[nodiscard]] double gain() const { return out_.figures.all.gain_e_adu ? out_.figures.all.gain_e_adu->value : 0; }

  // Bias frames of a temperature; of the nearest one that has some, where it has none.
  [[nodiscard]] const FrameStack* bias_of(std::size_t climate) const {
    const FrameStack* best = nullptr;
    double nearest = 1e9;
    for (const auto& [c, stack] : bias_) {
      const double away = std::fabs(group_.climates[c].temperature_c - group_.climates[climate].temperature_c);
      if (away < nearest) {
        nearest = away;
        best = &stack;
      }
    }
    return best;
  }

  Result<void> bias() {
    for (std::size_t c = 0; c < group_.climates.size(); ++c) {
      const SensorClimate& climate = group_.climates[c];
      SensorTemperature t;
      t.temperature_c = climate.temperature_c;
      t.known = climate.known;
      t.bias = static_cast<int>(climate.bias.size());
      for (const SensorStep& s : climate.darks) t.darks += static_cast<int>(s.frames.size());
      for (const SensorStep& s : climate.flats) t.flats += static_cast<int>(s.frames.size());
      out_.figures.temperatures.push_back(t);
      noise_.emplace_back();
      if (climate.bias.empty()) continue;
      ctx_.begin("bias", static_cast<std::int64_t>(climate.bias.size()));
      NG_TRY(bias_[c], stack_of(frames_, climate.bias, ctx_));
      NG_TRY(const auto pairs, pairs_of(frames_, climate.bias, false));
      double variance = 0, pixels = 0;
      for (const auto& [a, b] : pairs) {
        NG_TRY(const auto noise, pair(a, b, {}));
        for (std::size_t k = 0; k < noise.size(); ++k) {
          const double n = static_cast<double>(noise[k].pixels);
          cells_[k].variance += n * noise[k].variance_adu2;
          cells_[k].pixels += n;
          cells_[k].level += noise[k].level_adu;
          cells_[k].levels += 1;
          variance += n * noise[k].variance_adu2;
          pixels += n;
        }
      }
      if (pixels > 0) noise_[c] = {variance / pixels, std::sqrt(2 / pixels) * variance / pixels, 1};
    }
    if (bias_.empty()) {
      flag(
          "no bias frames: the level without light is unknown, so there is no photon transfer; take 10 or more of the "
          "shortest exposure, in the dark");
    } else if (cells_[0].levels == 0) {
      flag("one bias frame alone: noise takes two; take 10 or more");
    }
    return {};
  }

  Result<std::vector<CellNoise>> pair(std::size_t a, std::size_t b, const std::vector<double>& zero) {
    NG_TRY(const SensorPixels first, read_pixels(frames_[a]));
    NG_TRY(const SensorPixels second, read_pixels(frames_[b]));
    if (out_.figures.largest_adu == 0) out_.figures.step_adu = diagnose::value_step(first.view);
    if (!zero.empty())
      for (int y = 0; y < first.view.height; y += 2)
        out_.figures.largest_adu = std::max<double>(
            out_.figures.largest_adu, *std::max_element(first.view.row(y), first.view.row(y) + first.view.width));
    auto noise = diagnose::pair_noise(first.view, second.view, {!zero.empty(), mosaic_, zero}, ctx_);
    if (!noise.ok()) return std::move(noise).error().in(frames_[a].path.string());
    return noise;
  }

  [[nodiscard]] std::vector<double> zero_of(const FrameStack& bias) const {
    std::vector<double> zero;
    const int step = mosaic_ ? 2 : 1;
    for (int c = 0; c < static_cast<int>(cells_.size()); ++c) {
      double sum = 0, n = 0;
      for (int y = c / 2; y < bias.mean().height; y += step)
        for (int x = c % 2; x < bias.mean().width; x += step) {
          sum += bias.mean()(x, y);
          n += 1;
        }
      zero.push_back(n > 0 ? sum / n : 0);
    }
    return zero;
  }

  Result<void> flats() {
    double flicker = 0, lamp = 0;
    for (std::size_t c = 0; c < group_.climates.size(); ++c) {
      const FrameStack* zero_frames = bias_of(c);
      if (zero_frames == nullptr) continue;
      const std::vector<double> zero = zero_of(*zero_frames);
      ctx_.begin("flats", out_.figures.temperatures[c].flats);
      for (const SensorStep& step : group_.climates[c].flats) {
        NG_TRY(const auto pairs, pairs_of(frames_, step.frames, true));
        for (const auto& [a, b] : pairs) {
          NG_TRY(const auto noise, pair(a, b, zero));
          ctx_.advance(2);
          lit_.push_back({a, b, c, noise[mosaic_ ? 1 : 0].centre_adu});
          for (std::size_t k = 0; k < noise.size(); ++k) {
            const CellNoise& n = noise[k];
            cells_[k].points.push_back({step.exposure_s, n.level_adu, n.signal_adu, n.variance_adu2, n.centre_adu,
                                        n.centre_variance_adu2, n.ratio, n.pixels});
            flicker = std::max(flicker, n.flicker);
            lamp = std::max(lamp, std::fabs(std::log(n.ratio)));
          }
        }
      }
    }
    if (flicker > kFlickerTold)
      flag(fmt::format(
          "the light flickered while rows were read: rows of a pair differ by {:.1f} % rms; each row has its "
          "own ratio, which keeps gain and noise right, but not the linearity; use a lamp on direct current",
          100 * flicker));
    if (lamp > kLampTold)
      flag(fmt::format("the lamp changed by up to {:.0f} % between two flats of a pair; it is taken out", 100 * lamp));
    return {};
  }

  // Rounding is told by the step of the flats; bias frames alone may hold too few values.
  [[nodiscard]] DarkNoise dark_noise(double variance, double pixels) const {
    return {variance / pixels, std::sqrt(2 / pixels) * variance / pixels, out_.figures.step_adu};
  }

  void channels() {
    if (cells_[0].pixels == 0) return;
    static constexpr const char* kNames[] = {"R", "G", "B"};
    std::vector<diagnose::TransferPoint> together;
    double variance = 0, pixels = 0, level = 0, levels = 0;
    for (std::size_t k = 0; k < cells_.size(); ++k) {
      const Cell& cell = cells_[k];
      together.insert(together.end(), cell.points.begin(), cell.points.end());
      variance += cell.variance;
      pixels += cell.pixels;
      level += cell.level;
      levels += cell.levels;
      if (!mosaic_) continue;
      const int plane = bayer_plane(*bayer_, static_cast<int>(k % 2), static_cast<int>(k / 2));
      std::string name = kNames[plane];
      if (plane == 1) name += k < 2 ? "1" : "2";
      SensorChannel channel = channel_of(cell.points, dark_noise(cell.variance, cell.pixels), true);
      channel.name = std::move(name);
      channel.offset_adu = SensorFigure{cell.level / cell.levels, std::sqrt(cell.variance / cell.pixels / cell.pixels)};
      out_.figures.channels.push_back(std::move(channel));
    }
    SensorChannel& all = out_.figures.all;
    all = channel_of(together, dark_noise(variance, pixels), !mosaic_);
    all.name = "all";
    all.offset_adu = SensorFigure{level / levels, std::sqrt(variance / pixels / pixels)};
    if (mosaic_) join_linearity(out_.figures.channels, all);
    explain_channel(all, frames_[group_.first].facts(), out_.figures.flags);
    for (std::size_t c = 0; c < noise_.size(); ++c) {
      if (noise_[c].variance_adu2 <= 0 || !all.gain_e_adu) continue;
      noise_[c].step_adu = out_.figures.step_adu;
      const auto r = diagnose::read_noise(noise_[c], {all.gain_e_adu->value, all.gain_e_adu->error});
      out_.figures.temperatures[c].read_noise_e = SensorFigure{r.electrons.value, r.electrons.error};
    }
  }

  // DSNU of the bias, PRNU of the flats nearest to half of saturation, cold pixels of the same flats.
  Result<void> spatial() {
    SensorChannel& all = out_.figures.all;
    if (bias_.empty() || gain() <= 0) return {};
    const auto most = std::max_element(
        bias_.begin(), bias_.end(), [](const auto& a, const auto& b) { return a.second.count() < b.second.count(); });
    NG_CHECK(put_dsnu(most->second, total_dark_variance(), out_.figures, ctx_));
    const double half = kHalf * all.full_well_e->value / gain();
    const auto nearest = std::min_element(lit_.begin(), lit_.end(), [&](const LitPair& a, const LitPair& b) {
      return std::fabs(a.centre_adu - half) < std::fabs(b.centre_adu - half);
    });
    if (nearest == lit_.end() || std::fabs(nearest->centre_adu - half) > kFarFromHalf * half) return {};
    std::vector<std::size_t> members;  // all of about that level
    for (const LitPair& p : lit_)
      if (p.climate == nearest->climate && std::fabs(p.centre_adu / nearest->centre_adu - 1) < kSameLevel)
        members.insert(members.end(), {p.a, p.b});
    ctx_.begin("flats at half of saturation", static_cast<std::int64_t>(members.size()));
    NG_TRY(const FrameStack lit, stack_of(frames_, members, ctx_));
    const FrameStack& zero = *bias_of(nearest->climate);
    NG_CHECK(put_prnu(lit, zero, total_dark_variance(), out_.figures, ctx_));
    NG_CHECK(need_map(lit.mean()));
    NG_TRY(out_.figures.cold, diagnose::mark_cold(lit, zero.mean(), mosaic_, {}, out_.defects.plane(), ctx_));
    return {};
  }

  [[nodiscard]] double total_dark_variance() const {
    double variance = 0, pixels = 0;
    for (const Cell& cell : cells_) {
      variance += cell.variance;
      pixels += cell.pixels;
    }
    return pixels > 0 ? variance / pixels : 0;
  }

  Result<void> need_map(View<const float> like) {
    if (out_.defects.empty()) out_.defects = Image<std::uint8_t>(like.width, like.height, 1, std::uint8_t{0});
    if (out_.defects.width() != like.width || out_.defects.height() != like.height)
      return Error(Code::kNoMatch, "frames of one setting differ in their useful part");
    return {};
  }

  Result<void> darks() {
    const FrameFacts& facts = frames_[group_.first].facts();
    if (gain() <= 0 && facts.electrons_per_adu) {
      out_.figures.all.gain_e_adu = SensorFigure{*facts.electrons_per_adu, 0};
      flag(fmt::format("no gain from flats: {:g} electrons per ADU is what the header states",
                       *facts.electrons_per_adu));
      read_noise_by_header(*facts.electrons_per_adu);
    }
    for (std::size_t c = 0; c < group_.climates.size(); ++c) {
      const FrameStack* zero = bias_of(c);
      if (zero == nullptr) continue;
      SensorTemperature& t = out_.figures.temperatures[c];
      NG_CHECK(need_map(zero->mean()));
      if (const auto own = bias_.find(c); own != bias_.end()) {
        NG_TRY(t.unsteady,
               diagnose::mark_unsteady(own->second, noise_[c].variance_adu2, {}, out_.defects.plane(), ctx_));
      }
      NG_CHECK(put_dark(frames_, group_.climates[c].darks, {*zero, total_dark_variance(), out_.figures.all.gain_e_adu},
                        out_.defects.plane(), t, ctx_));
    }
    return {};
  }

  void read_noise_by_header(double gain_e_adu) {
    double pixels = 0;
    for (const Cell& cell : cells_) pixels += cell.pixels;
    if (pixels == 0) return;
    const auto r = diagnose::read_noise(dark_noise(total_dark_variance() * pixels, pixels), {gain_e_adu, 0});
    out_.figures.all.read_noise_e = SensorFigure{r.electrons.value, r.electrons.error};
    out_.figures.all.read_noise_is_limit = r.upper_limit;
  }

  void finish_defects() {
    const auto map = out_.defects.plane();
    for (int y = 0; y < map.height; ++y)
      out_.figures.defects += map.width - std::count(map.row(y), map.row(y) + map.width, std::uint8_t{0});
    for (const auto& [c, stack] : bias_)
      if (stack.count() < diagnose::kFewestForUnsteady) {
        flag(fmt::format("fewer than {} bias frames: pixels that hop cannot be told from noise",
                         diagnose::kFewestForUnsteady));
        return;
      }
  }

  std::vector<InputFrame>& frames_;
  const SensorGroup& group_;
  const SensorRequest& request_;
  const Context& ctx_;
  std::optional<BayerPattern> bayer_;
  bool mosaic_ = false;
  std::vector<Cell> cells_;
  std::map<std::size_t, FrameStack> bias_;  // by climate
  std::vector<LitPair> lit_;
  std::vector<DarkNoise> noise_;  // of its bias, by climate
  MeasuredSetting out_;
};

}  // namespace

Result<MeasuredSetting> measure_setting(std::vector<InputFrame>& frames, const SensorGroup& group,
                                        const SensorRequest& request, const Context& ctx) {
  return Measuring(frames, group, request, ctx).run();
}

}  // namespace ng::app
