#include "app/sensor_result.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "app/library_layout.h"
#include "app/message_read.h"
#include "app/text_file.h"
#include "io/content_hash.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kDateLength = 10;  // of "2027-01-05T21:00:00"
constexpr std::size_t kKeyInName = 10;

// In order of path: the pairs of flats follow from it.
std::vector<std::size_t> members_of(const SensorGroup& group) {
  std::vector<std::size_t> members;
  for (const SensorClimate& climate : group.climates) {
    members.insert(members.end(), climate.bias.begin(), climate.bias.end());
    for (const auto* steps : {&climate.darks, &climate.flats})
      for (const SensorStep& step : *steps) members.insert(members.end(), step.frames.begin(), step.frames.end());
  }
  std::sort(members.begin(), members.end());
  return members;
}

std::optional<store::MeasuredRecord> figure(const std::optional<SensorFigure>& f) {
  return f ? std::optional(store::MeasuredRecord{f->value, f->error}) : std::nullopt;
}

store::SensorChannelRecord channel_record(const SensorChannel& c) {
  return {c.name,           figure(c.gain_e_adu),   figure(c.read_noise_e), figure(c.offset_adu), figure(c.full_well_e),
          figure(c.dsnu_e), figure(c.prnu_percent), c.read_noise_is_limit,  c.full_well_is_limit, c.linearity_percent};
}

}  // namespace

SensorResult sensor_result(const std::vector<InputFrame>& frames, const SensorGroup& group,
                           const SensorSetting& figures, const SensorRequest& request) {
  SensorResult r;
  r.version = kSensorVersion;
  r.temperature_tolerance_c = request.temperature_tolerance_c;
  if (request.bayer) r.bayer = to_string(*request.bayer);
  r.figures = figures;
  r.figures.camera = readable(figures.camera);
  // Of numbers the shortest text that reads back the same.
  std::string all = fmt::format("{} {} {}", r.version, r.temperature_tolerance_c, r.bayer);
  std::optional<Instant> begin, end;
  for (const std::size_t i : members_of(group)) {
    const InputFrame& f = frames[i];
    const auto& start = f.facts().start;
    r.frames.push_back(
        {readable(f.path.filename().string()), std::string(to_string(f.kind)), f.hash, start ? start->iso() : ""});
    all += " " + f.hash;
    if (!start) continue;
    if (!begin || *start < *begin) begin = start;
    if (!end || *start > *end) end = start;
  }
  if (begin) r.first = begin->iso(), r.last = end->iso();
  r.key = io::content_hash(all);
  return r;
}

std::string sensor_result_name(const SensorResult& r) {
  std::string name = r.figures.camera.empty() ? "camera" : r.figures.camera;
  if (r.figures.gain_setting) name += fmt::format("_gain{:g}", *r.figures.gain_setting);
  if (!r.last.empty()) name += "_" + r.last.substr(0, kDateLength);
  name += "_" + r.key.substr(0, kKeyInName);
  for (char& c : name)
    if (std::isalnum(static_cast<unsigned char>(c)) == 0 && c != '-' && c != '+' && c != '.') c = '_';
  if (name.front() == '.') name.front() = '_';  // a hidden file is not looked at
  return name;
}

Result<fs::path> write_sensor_result(const fs::path& folder, const SensorResult& result) {
  std::error_code error;
  fs::create_directories(folder, error);
  if (error) return io::system_error("cannot make the folder " + io::quoted(folder), error.value());
  const std::string name = sensor_result_name(result), text = to_json(result).dump(1) + "\n";
  for (int n = 1;; ++n) {
    const fs::path file = folder / ((n == 1 ? name : fmt::format("{}-{}", name, n)) + std::string(kSensorEnding));
    const auto written = write_text(file, text, io::Overwrite::kRefuse);
    if (written.ok()) return file;
    if (written.error().code() != Code::kExists) return written.error();
    const auto there = read_text(file);
    if (there.ok() && *there == text) return file;
  }
}

Result<SensorResult> read_sensor_result(const fs::path& file) {
  NG_TRY(const std::string text, read_text(file));
  SensorResult result;
  const auto read = MessageReader(file.parent_path()).read(Json::parse(text, nullptr, false), "", result);
  if (!read.ok() || result.key.empty() || result.frames.empty())
    return Error(Code::kCorrupt, file.string() +
                                     ": is no result of a camera test: make it anew by `nightglass sensor "
                                     "--into-library`");
  return result;
}

store::SensorRecord record_of(const SensorResult& result) {
  const SensorSetting& s = result.figures;
  store::SensorRecord r;
  r.key = result.key;
  r.version = result.version;
  r.camera = s.camera;
  r.gain_setting = s.gain_setting;
  r.offset_setting = s.offset_setting;
  r.width = s.width;
  r.height = s.height;
  r.binning = s.binning;
  r.frames = static_cast<int>(result.frames.size());
  r.first = Instant::parse(result.first);
  r.last = Instant::parse(result.last);
  r.cold = s.cold;
  r.defects = s.defects;
  for (const SensorResultFrame& f : result.frames) r.recipe.inputs.push_back({"calibration", f.xxh3_128});
  r.channels.push_back(channel_record(s.all));
  for (const SensorChannel& c : s.channels) r.channels.push_back(channel_record(c));
  for (const SensorTemperature& t : s.temperatures)
    r.temperatures.push_back({t.known ? std::optional(t.temperature_c) : std::nullopt, t.bias, t.darks, t.flats,
                              figure(t.read_noise_e), figure(t.dark_e_s), figure(t.glow_e_s), t.hot, t.unsteady});
  return r;
}

}  // namespace ng::app
