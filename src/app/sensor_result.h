// app/sensor_result.h - a camera as it was measured, on disk: sensors/NAME.sensor.json of the workspace.
//
// One file for each setting of a camera: all figures of `sensor` with their uncertainties, and the content of every
// frame that they come from. No path and no time of writing stands in it, so that the same frames make the same file in
// every workspace.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "app/input_frames.h"
#include "app/sensor.h"
#include "app/sensor_frames.h"
#include "base/result.h"
#include "store/product_records.h"

namespace ng::app {

inline constexpr int kSensorVersion = 1;  // counted up with every change by which the same frames give other figures
inline constexpr std::string_view kSensorEnding = ".sensor.json";
inline constexpr const char* kSensorFolder = "sensors";

struct SensorResultFrame {
  std::string name, kind, xxh3_128, start;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("kind", self.kind);
    visit("xxh3_128", self.xxh3_128);
    visit("start", self.start);
  }
};

struct SensorResult {
  std::string
      key;  // of the frames in their order, the options and the version: where it is the same, so are the figures
  int version = 0;
  std::string first, last;  // starts of the frames, UTC; empty where none states it
  double temperature_tolerance_c = 0;
  std::string bayer;  // that was named in the request
  SensorSetting figures;
  std::vector<SensorResultFrame> frames;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("key", self.key);
    visit("version", self.version);
    visit("first", self.first);
    visit("last", self.last);
    visit("temperature_tolerance_c", self.temperature_tolerance_c);
    visit("bayer", self.bayer);
    visit("figures", self.figures);
    visit("frames", self.frames);
  }
};

[[nodiscard]] SensorResult sensor_result(const std::vector<InputFrame>& frames, const SensorGroup& group,
                                         const SensorSetting& figures, const SensorRequest& request);

// A name that a person can read, without folder and ending.
[[nodiscard]] std::string sensor_result_name(const SensorResult& result);

// Into the folder, which is made; returns the path. Nothing is replaced: a file that holds exactly this is it, a name
// that is taken by something else gets a number. Errors: kIo.
[[nodiscard]] Result<std::filesystem::path> write_sensor_result(const std::filesystem::path& folder,
                                                                const SensorResult& result);
// Errors: kNotFound, kIo, kCorrupt (no such result).
[[nodiscard]] Result<SensorResult> read_sensor_result(const std::filesystem::path& file);

// What the library keeps of it; path, hash and bytes stay empty.
[[nodiscard]] store::SensorRecord record_of(const SensorResult& result);

}  // namespace ng::app
