#include "app/sensor_rig.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/text_file.h"
#include "app/toml_edit.h"
#include "app/workspace.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr double kSameSetting = 1e-6;

// Four digits, without an exponent.
std::string digits(double value) {
  if (std::fabs(value) < 1000) return fmt::format("{:.4g}", value);
  const double unit = std::pow(10, std::floor(std::log10(std::fabs(value))) - 3);
  return fmt::format("{:.0f}", std::round(value / unit) * unit);
}

// The text with one change after the other.
class Editor {
 public:
  Editor(std::string text, std::vector<std::string>& changes) : text_(std::move(text)), changes_(changes) {}

  Result<void> set(const std::string& table, const std::string& label, const std::string& key, double value,
                   std::optional<double> old) {
    if (old && digits(*old) == digits(value)) return {};
    NG_TRY(text_, with_value(text_, table, key, digits(value)));
    changes_.push_back(fmt::format("{}: {} {} -> {}", label, key, old ? digits(*old) : "none", digits(value)));
    return {};
  }
  Result<void> add_row(std::size_t before, const SensorSetting& s) {
    std::string lines = fmt::format("setting = {:g}\ngain_e_adu = {}\nread_noise_e = {}\n", *s.gain_setting,
                                    digits(s.all.gain_e_adu->value), digits(s.all.read_noise_e->value));
    if (!s.all.full_well_is_limit) lines += fmt::format("full_well_e = {}\n", digits(s.all.full_well_e->value));
    NG_TRY(text_, with_item(text_, "sensor.gains", before, lines));
    changes_.push_back(fmt::format("sensor.gains {:g}: new", *s.gain_setting));
    return {};
  }
  [[nodiscard]] std::string take() { return std::move(text_); }

 private:
  std::string text_;
  std::vector<std::string>& changes_;
};

Result<void> put_gain(Editor& editor, rig::Rig& rig, const SensorSetting& s) {
  auto& rows = rig.gains.rows;
  const auto row = std::find_if(rows.begin(), rows.end(), [&](const rig::GainRow& r) {
    return std::fabs(r.setting - *s.gain_setting) < kSameSetting;
  });
  if (row == rows.end()) {
    const auto next =
        std::find_if(rows.begin(), rows.end(), [&](const rig::GainRow& r) { return r.setting > *s.gain_setting; });
    NG_CHECK(editor.add_row(static_cast<std::size_t>(next - rows.begin()), s));
    rows.insert(next, {*s.gain_setting, s.all.gain_e_adu->value, s.all.read_noise_e->value, {}});
    return {};
  }
  const std::string table = fmt::format("sensor.gains.{}", row - rows.begin());
  const std::string label = fmt::format("sensor.gains {:g}", *s.gain_setting);
  NG_CHECK(editor.set(table, label, "gain_e_adu", s.all.gain_e_adu->value, row->gain_e_adu));
  if (!s.all.read_noise_is_limit)
    NG_CHECK(editor.set(table, label, "read_noise_e", s.all.read_noise_e->value, row->read_noise_e));
  if (!s.all.full_well_is_limit)
    NG_CHECK(editor.set(table, label, "full_well_e", s.all.full_well_e->value, row->full_well_e));
  return {};
}

// Of the setting in use: level of the bias, dark current at the temperature nearest to that of use.
Result<void> put_dark(Editor& editor, const rig::Rig& rig, const SensorSetting& s) {
  if (s.all.offset_adu)
    NG_CHECK(editor.set("sensor", "sensor", "offset_adu", s.all.offset_adu->value, rig.sensor.offset_adu));
  const SensorTemperature* best = nullptr;
  const auto away = [&](const SensorTemperature& t) { return std::fabs(t.temperature_c - rig.cooler.temperature_c); };
  for (const SensorTemperature& t : s.temperatures)
    if (t.known && t.dark_e_s && t.dark_e_s->value > 0 && (best == nullptr || away(t) < away(*best))) best = &t;
  if (best == nullptr) return {};
  NG_CHECK(editor.set("sensor", "sensor", "dark_e_s", best->dark_e_s->value, rig.sensor.dark_e_s));
  return editor.set("sensor", "sensor", "dark_reference_c", std::round(best->temperature_c * 10) / 10,
                    rig.sensor.dark_reference_c);
}

}  // namespace

Result<std::string> rig_with_sensor(const std::string& text, const std::string& name,
                                    const std::vector<SensorSetting>& settings, std::vector<std::string>& changes) {
  NG_TRY(rig::Rig rig, parse_rig(text, name));
  Editor editor(text, changes);
  const SensorSetting* in_use = nullptr;
  int measured = 0;
  for (const SensorSetting& s : settings) {
    if (s.binning != 1 || s.width != rig.sensor.width || s.height != rig.sensor.height)
      return Error(Code::kNoMatch,
                   fmt::format("{}: the rig's sensor has {} x {} pixels, the frames {} x {} at binning {}: "
                               "they are of another camera, and nothing is written",
                               name, rig.sensor.width, rig.sensor.height, s.width, s.height, s.binning));
    if (!s.gain_setting || !s.all.gain_e_adu || !s.all.read_noise_e || s.all.points.empty()) continue;
    NG_CHECK(put_gain(editor, rig, s).in(name));
    ++measured;
    if (std::fabs(*s.gain_setting - rig.gain_setting) < kSameSetting) in_use = &s;
  }
  if (measured == 0)
    return Error(Code::kInvalidInput,
                 "no gain was measured at a setting that the headers name: nothing to write into the rig");
  if (in_use != nullptr) NG_CHECK(put_dark(editor, rig, *in_use).in(name));
  std::string changed = editor.take();
  NG_CHECK(parse_rig(changed, "the new text of " + name));
  return changed;
}

Result<void> write_sensor_to_rig(const std::optional<fs::path>& workspace, SensorReply& reply) {
  NG_TRY(const Workspace w, open_workspace(workspace));
  const fs::path path = w.folder / "rig.toml";
  NG_TRY(const std::string text, read_text(path));
  NG_TRY(const std::string changed, rig_with_sensor(text, path.string(), reply.settings, reply.rig_changes));
  reply.rig = path.string();
  if (changed == text) return {};
  NG_TRY(const fs::path kept, keep_before(path, text));
  reply.rig_before = kept.string();
  return write_text(path, changed, io::Overwrite::kReplace);
}

}  // namespace ng::app
