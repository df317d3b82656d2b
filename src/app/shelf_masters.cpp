#include "app/shelf_masters.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "reduce/single/master.h"

namespace ng::app {
namespace {

constexpr double kSecondsPerDay = 86400;
constexpr double kAheadDays = 1;  // clocks may differ by their zone

CalibrationFacts facts_of(const store::CalibrationMasterRecord& m) {
  return {m.kind,
          m.camera,
          m.filter,
          m.width,
          m.height,
          m.binning_x,
          m.binning_y,
          m.exposure_s,
          m.gain_setting,
          m.offset_setting,
          m.sensor_temperature_c,
          m.rotation_deg};
}

std::set<std::string> inputs_of(const store::CalibrationMasterRecord& m) {
  std::set<std::string> hashes;
  for (const store::RecipeInputRecord& input : m.recipe.inputs) hashes.insert(input.hash);
  return hashes;
}

}  // namespace

std::vector<ShelfMaster> shelf_masters(const std::vector<store::CalibrationMasterRecord>& masters,
                                       const std::vector<store::LibraryFrame>& frames, const CalibrationWish& wish,
                                       Instant now) {
  std::vector<ShelfMaster> listed;
  for (const store::CalibrationMasterRecord& m : masters) {
    const bool flat = m.kind == FrameKind::kFlat, timed = m.kind == FrameKind::kDark || m.kind == FrameKind::kDarkFlat;
    ShelfMaster& s = listed.emplace_back();
    s.path = m.path;
    s.kind = to_string(m.kind);
    s.camera = m.camera;
    s.filter = m.filter;
    if (timed) s.exposure_s = m.exposure_s;
    s.gain_setting = m.gain_setting;
    if (!flat) s.temperature_c = m.sensor_temperature_c;
    s.rotation_deg = m.rotation_deg;
    s.frames = m.frames;
    if (m.last) {
      s.last = m.last->iso();
      s.age_days = now.seconds_since(*m.last) / kSecondsPerDay;
      if (*s.age_days < -kAheadDays) {
        s.age_days.reset();
        s.notes.push_back("dated " + s.last +
                          ", after the clock of this computer: one of the two is wrong, the age is not known");
      }
    }
    const std::set<std::string> inputs = inputs_of(m);
    int there = 0, others = 0;
    for (const store::LibraryFrame& f : frames) {
      if (inputs.contains(f.hash))
        ++there;
      else if (f.kind == m.kind && calibration_mismatch(calibration_facts(f), facts_of(m), wish.tolerance) == 0)
        ++others;
    }
    s.state = "valid";
    if (s.age_days && *s.age_days > wish.old_after_days) {
      s.state = "old";
      s.notes.push_back(fmt::format("its newest frame is {:.0f} days old; calibration.toml calls {:g} days old",
                                    *s.age_days, wish.old_after_days));
    }
    if (m.version != reduce::kMasterVersion) s.notes.push_back("made by another version of the algorithm");
    if (there < m.frames)
      s.notes.push_back(fmt::format("{} of its {} frames are not in the library", m.frames - there, m.frames));
    if (others > 0) s.notes.push_back(fmt::format("{} more frames of the library fit", others));
    if (m.version != reduce::kMasterVersion || there < m.frames || others > 0) {
      s.state = "not valid";
      s.notes.emplace_back("the next reduction makes it anew");
    }
  }
  return listed;
}

void mark_drifted(std::vector<ShelfMaster>& listed, const std::vector<store::CalibrationMasterRecord>& masters,
                  const std::vector<store::LibraryFrame>& frames, const CalibrationFacts& like,
                  const CalibrationTolerance& tolerance, const std::string& last_night) {
  for (std::size_t i = 0; i < listed.size(); ++i) {
    if (masters[i].kind != like.kind || calibration_mismatch(facts_of(masters[i]), like, tolerance) != 0) continue;
    const std::set<std::string> inputs = inputs_of(masters[i]);
    const auto earlier = std::count_if(frames.begin(), frames.end(), [&](const store::LibraryFrame& f) {
      return inputs.contains(f.hash) && f.night < last_night;
    });
    if (earlier == 0) continue;
    if (listed[i].state != "not valid") listed[i].state = "drifted";
    listed[i].notes.push_back(
        fmt::format("{} of its darks are of nights before {}, and the sensor has drifted since", earlier, last_night));
  }
}

}  // namespace ng::app
