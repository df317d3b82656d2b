#include "app/shelf_sensor.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>

#include "rig/signal.h"

namespace ng::app {
namespace {

constexpr double kSameGain = 1e-3;  // settings are whole numbers or tenths
constexpr const char* kRigFile = "rig.toml";

// Of this sensor at this gain, the newest first.
std::vector<const store::SensorRecord*> candidates(const rig::Sensor& stated, double gain_setting,
                                                   const std::vector<store::SensorRecord>& results) {
  std::vector<const store::SensorRecord*> found;
  for (const store::SensorRecord& r : results)
    if (r.width == stated.width && r.height == stated.height && r.binning == 1 && r.gain_setting &&
        std::fabs(*r.gain_setting - gain_setting) < kSameGain && !r.channels.empty())
      found.push_back(&r);
  const auto age = [](const store::SensorRecord* r) { return std::tuple(r->last.has_value(), r->last, r->path); };
  std::sort(found.begin(), found.end(), [&](const auto* a, const auto* b) { return age(a) > age(b); });
  return found;
}

bool usable(const std::optional<store::MeasuredRecord>& figure, bool is_limit) {
  return figure && !is_limit && figure->value > 0;
}

const store::SensorTemperatureRecord* nearest_dark(const store::SensorRecord& r, double celsius) {
  const store::SensorTemperatureRecord* best = nullptr;
  for (const store::SensorTemperatureRecord& t : r.temperatures)
    if (t.temperature_c && usable(t.dark_e_s, false) &&
        (best == nullptr || std::fabs(*t.temperature_c - celsius) < std::fabs(*best->temperature_c - celsius)))
      best = &t;
  return best;
}

double dark_frame_e2(const rig::Sensor& sensor, double seconds, double celsius) {
  return rig::PixelExposure{0, 0, sensor.dark_rate_e_s(celsius), sensor.read_noise_e, sensor.gain_e_adu, seconds}
      .variance_e2();
}

}  // namespace

MeasuredSensor measured_sensor(const rig::Sensor& stated, double gain_setting, double celsius,
                               const std::vector<store::SensorRecord>& results) {
  MeasuredSensor m{stated, {}, {}};
  ShelfSensor& told = m.told;
  told.gain_from = told.read_noise_from = told.dark_from = kRigFile;
  std::vector<const store::SensorRecord*> found = candidates(stated, gain_setting, results);
  std::set<std::string> cameras;
  for (const auto* r : found) cameras.insert(r->camera);
  if (cameras.size() > 1) {
    std::erase_if(found, [&](const auto* r) { return r->camera != stated.name; });
    if (found.empty())
      m.notes.push_back(
          fmt::format("sensor results of {} cameras of {} x {} pixels are there, and none has the name of "
                      "rig.toml: its figures are used; give sensor.name there",
                      cameras.size(), stated.width, stated.height));
  }
  std::optional<Instant> newest;
  const auto took = [&](const store::SensorRecord& r, std::string& from) {
    from = r.path;
    if (r.last && (!newest || *r.last > *newest)) newest = r.last;
  };
  for (const auto* r : found) {
    const store::SensorChannelRecord& all = r->channels.front();
    if (told.gain_from == kRigFile && usable(all.gain_e_adu, false)) {
      m.sensor.gain_e_adu = all.gain_e_adu->value;
      took(*r, told.gain_from);
    }
    if (told.read_noise_from == kRigFile && usable(all.read_noise_e, all.read_noise_is_limit)) {
      m.sensor.read_noise_e = all.read_noise_e->value;
      took(*r, told.read_noise_from);
    }
    const auto* dark = nearest_dark(*r, celsius);
    if (told.dark_from == kRigFile && dark != nullptr) {
      m.sensor.dark_e_s = dark->dark_e_s->value;
      m.sensor.dark_reference_c = *dark->temperature_c;
      took(*r, told.dark_from);
    }
  }
  told.gain_setting = gain_setting;
  told.gain_e_adu = m.sensor.gain_e_adu;
  told.read_noise_e = m.sensor.read_noise_e;
  told.dark_e_s = m.sensor.dark_rate_e_s(celsius);
  told.temperature_c = celsius;
  if (newest) told.measured = newest->iso();
  return m;
}

SubNoise with_sensor(const SubNoise& light, double seconds, double celsius, const rig::Sensor& stated,
                     const rig::Sensor& measured) {
  const double own = dark_frame_e2(measured, seconds, celsius);
  // Never below the sensor's own noise, whatever rig.toml had said.
  return {std::max(own, light.variance_e2 - dark_frame_e2(stated, seconds, celsius) + own), light.subs};
}

}  // namespace ng::app
