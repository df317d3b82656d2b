#include "app/shelf_sets.h"

#include <set>
#include <string>

namespace ng::app {
namespace {

ShelfSet set_like(const store::LibraryFrame& f) {
  const bool timed = f.kind == FrameKind::kDark || f.kind == FrameKind::kDarkFlat, flat = f.kind == FrameKind::kFlat;
  ShelfSet s;
  s.kind = to_string(f.kind);
  s.camera = f.camera;
  s.filter = f.filter;
  if (timed) s.exposure_s = f.exposure_s;
  s.gain_setting = f.gain_setting;
  s.offset_setting = f.offset_setting;
  if (!flat) s.temperature_c = f.sensor_temperature_c;
  if (flat) s.rotation_deg = f.rotation_deg;
  s.binning = f.binning_x;
  return s;
}

}  // namespace

std::vector<ShelfSet> shelf_sets(const std::vector<store::LibraryFrame>& frames,
                                 const CalibrationTolerance& tolerance) {
  std::vector<ShelfSet> sets;
  std::vector<const store::LibraryFrame*> first;
  std::vector<std::set<std::string>> nights;
  for (const store::LibraryFrame& f : frames) {
    const CalibrationFacts facts = calibration_facts(f);
    std::size_t k = 0;
    while (k < first.size() && (first[k]->kind != f.kind || first[k]->camera != f.camera ||
                                calibration_mismatch(facts, calibration_facts(*first[k]), tolerance) != 0))
      ++k;
    if (k == first.size()) {
      first.push_back(&f);
      nights.emplace_back();
      sets.push_back(set_like(f));
    }
    ++sets[k].frames;
    if (!f.night.empty()) nights[k].insert(f.night);
  }
  for (std::size_t k = 0; k < nights.size(); ++k) {
    if (nights[k].empty()) continue;
    sets[k].nights = static_cast<int>(nights[k].size());
    sets[k].first_night = *nights[k].begin();
    sets[k].last_night = *nights[k].rbegin();
  }
  return sets;
}

}  // namespace ng::app
