#include "app/library_shelf.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "app/calibration_wish.h"
#include "app/library_folder.h"
#include "app/shelf_gaps.h"
#include "app/shelf_lights.h"
#include "app/shelf_masters.h"
#include "app/shelf_pixels.h"
#include "app/shelf_sensor.h"
#include "app/shelf_sets.h"
#include "app/workspace.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr double kBiasS = 0.5;  // a bias frame and its pause, beside the download
constexpr double kSecondsPerDay = 86400;
constexpr double kDatesApartDays = 1;  // an evening's date in its zone may be ahead of the date in UTC

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
    reply_.sets = shelf_sets(frames_, wish_.tolerance);
    NG_TRY(const auto measured, index.sensor_results());
    take_sensor(measured);
    NG_TRY(const std::vector<ShelfLight> lights, tonight());
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

  Result<std::vector<ShelfLight>> tonight() {
    NG_TRY(std::vector<ShelfLight> lights, tonight_lights(request_, gain(), celsius(), ctx_));
    if (sensor_) {
      for (ShelfLight& light : lights)
        light.noise = with_sensor(light.noise, light.seconds, celsius(), *stated_, *sensor_);
    }
    return lights;
  }

  [[nodiscard]] CalibrationFacts like(FrameKind kind, const ShelfLight& light) const {
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

  Result<void> needs(const std::vector<ShelfLight>& lights) {
    std::vector<double> dark_s;
    std::set<std::string> filters;
    for (const ShelfLight& light : lights) {
      const bool same = std::any_of(dark_s.begin(), dark_s.end(), [&](double s) {
        return std::fabs(s - light.seconds) <= wish_.tolerance.exposure_share * light.seconds;
      });
      if (same) continue;
      dark_s.push_back(light.seconds);
      NG_CHECK(need(FrameKind::kDark, light));
    }
    const bool wheel = workspace_.rig.filters.size() > 1;
    std::vector<double> flat_s;
    for (const ShelfLight& light : lights) {
      if (!filters.insert(light.filter).second) continue;
      ShelfLight one = light;
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
      ShelfLight flat = lights.front();
      flat.seconds = s;
      NG_CHECK(need(FrameKind::kDarkFlat, flat));
    }
    return {};
  }

  Result<void> need(FrameKind kind, const ShelfLight& light) {
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
    if (n.have == 0) {
      if (std::string misses = near_misses(wanted, frames_, wish_.tolerance); !misses.empty())
        n.notes.push_back(std::move(misses));
    }
    if (kind == FrameKind::kDark) {
      if (sensor_) {
        for (std::string& cost :
             cost_of_darks(wanted, n.have, n.wanted, light.noise, *sensor_, frames_, wish_.tolerance))
          n.notes.push_back(std::move(cost));
      }
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
