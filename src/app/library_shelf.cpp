#include "app/library_shelf.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "app/calibration_wish.h"
#include "app/expose.h"
#include "app/library_folder.h"
#include "app/shelf_cost.h"
#include "app/shelf_masters.h"
#include "app/shelf_pixels.h"
#include "app/shelf_sensor.h"
#include "app/workspace.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr double kBiasS = 0.5;  // a bias frame and its pause, beside the download
constexpr double kSecondsPerDay = 86400;
constexpr double kDatesApartDays = 1;  // an evening's date in its zone may be ahead of the date in UTC

// One of tonight's lights.
struct Light {
  std::string filter;
  double seconds = 0;
  SubNoise noise;
};

class Shelf {
 public:
  Shelf(const ShelfRequest& request, const Context& ctx) : request_(request), ctx_(ctx) {}

  Result<ShelfReply> run() {
    NG_TRY(workspace_, open_workspace(request_.workspace));
    NG_TRY(wish_, read_calibration_wish(workspace_.folder));
    NG_TRY(library_, find_library(request_.workspace));
    NG_TRY(const store::LibraryIndex index, store::LibraryIndex::open(library_.index));
    for (const char* kind : {"bias", "dark", "dark-flat", "flat"}) {
      NG_TRY(auto found, index.search({.kind = kind}));
      std::move(found.begin(), found.end(), std::back_inserter(frames_));
    }
    NG_TRY(masters_, index.calibration_masters());
    reply_.masters = shelf_masters(masters_, frames_, wish_, request_.at);
    list_sets();
    NG_TRY(const auto measured, index.sensor_results());
    take_sensor(measured);
    NG_TRY(const std::vector<Light> lights, tonight());
    NG_CHECK(needs(lights));
    for (const ShelfNeed& need : reply_.needs) reply_.take_min += need.take_min;
    return std::move(reply_);
  }

 private:
  [[nodiscard]] double gain() const { return request_.gain_setting.value_or(workspace_.rig.gain_setting); }
  [[nodiscard]] double celsius() const { return request_.temperature_c.value_or(workspace_.rig.cooler.temperature_c); }

  void take_sensor(const std::vector<store::SensorRecord>& results) {
    const auto gains = workspace_.rig.gains.at(gain());
    if (!gains.ok()) return;
    stated_ = rig::at_gain(workspace_.rig.sensor, *gains);
    MeasuredSensor measured = measured_sensor(*stated_, gain(), celsius(), results);
    sensor_ = std::move(measured.sensor);
    reply_.sensor = std::move(measured.told);
    for (std::string& note : measured.notes) reply_.notes.push_back(std::move(note));
  }

  // Alike by the rule itself: a set is what matches its first frame, in both directions.
  void list_sets() {
    std::vector<const store::LibraryFrame*> first;
    std::vector<std::set<std::string>> nights;
    for (const store::LibraryFrame& f : frames_) {
      const CalibrationFacts facts = calibration_facts(f);
      std::size_t k = 0;
      while (k < first.size() && (first[k]->kind != f.kind || first[k]->camera != f.camera ||
                                  calibration_mismatch(facts, calibration_facts(*first[k]), wish_.tolerance) != 0))
        ++k;
      if (k == first.size()) {
        first.push_back(&f);
        nights.emplace_back();
        const bool timed = f.kind == FrameKind::kDark || f.kind == FrameKind::kDarkFlat;
        reply_.sets.push_back({std::string(to_string(f.kind)), f.camera, f.filter, timed ? f.exposure_s : std::nullopt,
                               f.gain_setting, f.offset_setting,
                               f.kind == FrameKind::kFlat ? std::nullopt : f.sensor_temperature_c,
                               f.kind == FrameKind::kFlat ? f.rotation_deg : std::nullopt, f.binning_x, 0, 0, "", ""});
      }
      ++reply_.sets[k].frames;
      if (!f.night.empty()) nights[k].insert(f.night);
    }
    for (std::size_t k = 0; k < nights.size(); ++k) {
      if (nights[k].empty()) continue;
      reply_.sets[k].nights = static_cast<int>(nights[k].size());
      reply_.sets[k].first_night = *nights[k].begin();
      reply_.sets[k].last_night = *nights[k].rbegin();
    }
  }

  Result<std::vector<Light>> tonight() {
    ExposeRequest ask;
    ask.workspace = request_.workspace;
    ask.filters = request_.filters;
    ask.gain_setting = gain();
    ask.temperature_c = celsius();
    ask.at = request_.at;
    if (!request_.light_s.empty()) ask.wish.sub_s = request_.light_s.front();
    NG_TRY(const ExposeReply advice, expose(ask, ctx_));
    std::vector<Light> lights;
    for (const ExposeFilter& f : advice.filters) {
      std::vector<double> seconds = request_.light_s;
      if (seconds.empty()) seconds.push_back(f.advice.sub_s);
      for (const double s : seconds)
        lights.push_back({f.advice.filter, s, {f.advice.sub_variance_e2 * s / f.advice.sub_s, f.advice.night_subs}});
    }
    // `expose` reckons with rig.toml.
    if (sensor_) {
      for (Light& light : lights) light.noise = with_sensor(light.noise, light.seconds, celsius(), *stated_, *sensor_);
    }
    return lights;
  }

  [[nodiscard]] CalibrationFacts like(FrameKind kind, const Light& light) const {
    CalibrationFacts f;
    f.kind = kind;
    f.filter = light.filter;
    f.width = workspace_.rig.sensor.width;
    f.height = workspace_.rig.sensor.height;
    f.exposure_s = light.seconds;
    f.gain_setting = gain();
    f.offset_setting = request_.offset_setting;
    f.temperature_c = celsius();
    f.rotation_deg = request_.rotation_deg;
    return f;
  }

  [[nodiscard]] std::vector<const store::LibraryFrame*> matching(FrameKind kind, const CalibrationFacts& wanted) const {
    std::vector<const store::LibraryFrame*> found;
    for (const store::LibraryFrame& f : frames_)
      if (f.kind == kind && calibration_mismatch(calibration_facts(f), wanted, wish_.tolerance) == 0)
        found.push_back(&f);
    return found;
  }

  Result<void> needs(const std::vector<Light>& lights) {
    std::vector<double> dark_s;
    std::set<std::string> filters;
    for (const Light& light : lights) {
      const bool same = std::any_of(dark_s.begin(), dark_s.end(), [&](double s) {
        return std::fabs(s - light.seconds) <= wish_.tolerance.exposure_share * light.seconds;
      });
      if (same) continue;
      dark_s.push_back(light.seconds);
      NG_CHECK(need(FrameKind::kDark, light));
    }
    const bool wheel = workspace_.rig.filters.size() > 1;
    std::vector<double> flat_s;
    for (const Light& light : lights) {
      if (!filters.insert(light.filter).second) continue;
      Light one = light;
      // The header of a camera without a wheel names no filter.
      if (!wheel && matching(FrameKind::kFlat, like(FrameKind::kFlat, one)).empty()) one.filter.clear();
      NG_CHECK(need(FrameKind::kFlat, one));
      for (const auto* flat : matching(FrameKind::kFlat, like(FrameKind::kFlat, one)))
        if (flat->exposure_s && std::none_of(flat_s.begin(), flat_s.end(), [&](double s) {
              return std::fabs(s - *flat->exposure_s) <= wish_.tolerance.exposure_share * s;
            }))
          flat_s.push_back(*flat->exposure_s);
    }
    if (lights.empty()) return {};
    NG_CHECK(need(FrameKind::kBias, lights.front()));
    ShelfNeed& bias = reply_.needs.back();
    if (bias.have > 0) {
      bias.notes.emplace_back("the level of the flats comes from them where there are no dark-flats");
      return {};
    }
    for (const double s : flat_s) {
      Light flat = lights.front();
      flat.seconds = s;
      NG_CHECK(need(FrameKind::kDarkFlat, flat));
    }
    return {};
  }

  Result<void> need(FrameKind kind, const Light& light) {
    const CalibrationFacts wanted = like(kind, light);
    const auto found = matching(kind, wanted);
    ShelfNeed n;
    n.kind = to_string(kind);
    if (kind == FrameKind::kFlat) n.filter = light.filter;
    if (kind == FrameKind::kDark || kind == FrameKind::kDarkFlat) n.exposure_s = light.seconds;
    if (kind != FrameKind::kFlat) n.temperature_c = celsius();
    n.gain_setting = gain();
    n.wanted = wish_.count(kind);
    n.have = static_cast<int>(found.size());
    for (const auto* f : found) n.last_night = std::max(n.last_night, f->night);
    if (const auto last = Instant::parse(n.last_night)) n.age_days = request_.at.seconds_since(*last) / kSecondsPerDay;
    const bool ahead = n.age_days && *n.age_days < -kDatesApartDays;
    if (ahead) n.age_days.reset();
    n.state = n.have == 0 ? "missing" : n.have < n.wanted ? "few" : "there";
    n.take = std::max(0, n.wanted - n.have);
    if (n.state == "there" && n.age_days && *n.age_days > wish_.old_after_days) {
      n.state = "old";
      n.take = n.wanted;
      n.notes.push_back(fmt::format("taken {:.0f} days ago; calibration.toml calls {:g} days old", *n.age_days,
                                    wish_.old_after_days));
    }
    if (n.have == 0) tell_near_misses(kind, wanted, n);
    if (kind == FrameKind::kDark) {
      cost_of_darks(wanted, light, n);
      if (request_.pixels) NG_CHECK(test_pixels(found, n));
      if (n.state == "drifted") mark_drifted(reply_.masters, masters_, frames_, wanted, wish_.tolerance, n.last_night);
    }
    if (kind == FrameKind::kFlat && n.have == 0)
      n.notes.push_back("without flats vignetting and dust stay; dust moves, so flats of this assembly alone will do");
    if (ahead)
      n.notes.push_back("dated " + n.last_night +
                        ", after the clock of this computer: one of the two is wrong, the age is not known");
    const double each = (kind == FrameKind::kBias ? kBiasS : n.exposure_s.value_or(workspace_.rig.timing.download_s)) +
                        workspace_.rig.timing.download_s;
    n.take_min = n.take * each / 60;
    reply_.needs.push_back(std::move(n));
    return {};
  }

  void cost_of_darks(const CalibrationFacts& wanted, const Light& light, ShelfNeed& n) const {
    if (!sensor_) return;
    const rig::Sensor& sensor = *sensor_;
    if (n.have < n.wanted)
      n.notes.push_back(cost_of_count(sensor, light.seconds, celsius(), n.have, n.wanted, light.noise));
    if (n.have > 0) return;
    // The nearest dark that differs in temperature alone; else in exposure alone.
    for (const unsigned off : {kOtherTemperature, kOtherExposure}) {
      const auto distance = [&](const store::LibraryFrame& f) {
        return off == kOtherTemperature ? std::fabs(*f.sensor_temperature_c - celsius())
                                        : std::fabs(std::log(std::max(*f.exposure_s, 1e-6) / light.seconds));
      };
      const store::LibraryFrame* nearest = nullptr;
      for (const store::LibraryFrame& f : frames_) {
        if (f.kind != FrameKind::kDark || !f.sensor_temperature_c || !f.exposure_s) continue;
        if (calibration_mismatch(calibration_facts(f), wanted, wish_.tolerance) != off) continue;
        if (nearest == nullptr || distance(f) < distance(*nearest)) nearest = &f;
      }
      if (nearest == nullptr) continue;
      n.notes.push_back(cost_of_others(sensor, light.seconds, celsius(), *nearest->exposure_s,
                                       *nearest->sensor_temperature_c, light.noise));
      return;
    }
  }

  // Frames that one thing alone keeps from being used.
  void tell_near_misses(FrameKind kind, const CalibrationFacts& wanted, ShelfNeed& n) const {
    static constexpr std::pair<CalibrationMismatch, const char*> kWords[] = {
        {kOtherGain, "gain or offset"}, {kOtherExposure, "exposure"}, {kOtherTemperature, "temperature"},
        {kOtherFilter, "filter"},       {kOtherRotation, "rotation"}, {kOtherSensor, "camera, size or binning"}};
    std::string text;
    for (const auto& [bit, word] : kWords) {
      const auto count = std::count_if(frames_.begin(), frames_.end(), [&, off = bit](const store::LibraryFrame& f) {
        return f.kind == kind && calibration_mismatch(calibration_facts(f), wanted, wish_.tolerance) == off;
      });
      if (count > 0) text += fmt::format("{} {} of another {}", text.empty() ? "" : ",", count, word);
    }
    if (!text.empty()) n.notes.push_back("there, but not fit:" + text);
  }

  Result<void> test_pixels(const std::vector<const store::LibraryFrame*>& found, ShelfNeed& n) {
    if (found.empty()) {
      NG_TRY(const auto advice, scaling_advice(frames_, library_.frames, n, wish_.tolerance,
                                               {workspace_.rig.sensor.width, workspace_.rig.sensor.height}, ctx_));
      if (!advice.empty()) n.notes.push_back(advice);
      return {};
    }
    NG_TRY(const DriftFinding drift, drift_of(found, library_.frames, ctx_));
    if (!drift.words.empty()) n.notes.push_back(drift.words);
    if (!drift.drifted) return {};
    n.state = "drifted";
    n.have = drift.still_good;
    n.take = std::max(0, n.wanted - n.have);
    return {};
  }

  const ShelfRequest& request_;
  const Context& ctx_;
  Workspace workspace_;
  CalibrationWish wish_;
  LibraryFolder library_;
  std::vector<store::LibraryFrame> frames_;
  std::vector<store::CalibrationMasterRecord> masters_;
  std::optional<rig::Sensor> stated_, sensor_;  // of rig.toml; with what was measured in its place
  ShelfReply reply_;
};

}  // namespace

Result<ShelfReply> calibration_shelf(const ShelfRequest& request, const Context& ctx) {
  return Shelf(request, ctx).run();
}

}  // namespace ng::app
