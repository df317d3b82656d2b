#include "app/sensor_rig.h"

#include <gtest/gtest.h>

#include "app/toml_edit.h"
#include "app/workspace.h"

namespace ng::app {
namespace {

const std::string kRig = R"(# my rig, größer als früher
[optics]   # a remark
aperture_mm = 80
focal_length_mm = 400

[sensor]
width_px = 600
height_px = 400
pixel_um = 3.76
offset_adu = 500     # of a bias
gain_setting = 100

# measured once
[[sensor.gains]]
setting = 0
gain_e_adu = 0.78    # the maker says so
read_noise_e = 3.5
# full_well_e = 50000

# the usual one
[[sensor.gains]]
setting = 100
gain_e_adu = 0.25
read_noise_e = 1.5

[cooler]
temperature_c = -10

[[filters]]
name = "L"
centre_nm = 550
width_nm = 300)";  // no line break at the end

SensorSetting measured(double setting, double gain, double noise, double well) {
  SensorSetting s;
  s.width = 600;
  s.height = 400;
  s.gain_setting = setting;
  s.all.gain_e_adu = SensorFigure{gain, 0.001};
  s.all.read_noise_e = SensorFigure{noise, 0.001};
  s.all.full_well_e = SensorFigure{well, 10};
  s.all.points.resize(1);
  return s;
}

// Every line of the old text that was not named is in the new one, in the same order.
void expect_kept(const std::string& before, const std::string& after, const std::vector<std::string>& changed) {
  std::size_t at = 0;
  for (std::size_t begin = 0; begin < before.size();) {
    const std::size_t end = std::min(before.find('\n', begin), before.size());
    const std::string line = before.substr(begin, end - begin);
    begin = end + 1;
    if (std::find(changed.begin(), changed.end(), line) != changed.end()) continue;
    const std::size_t found = after.find(line, at);
    ASSERT_NE(found, std::string::npos) << line;
    at = found + line.size();
  }
}

TEST(SensorRig, WritesWhatWasMeasuredAndKeepsTheRest) {
  SensorSetting in_use = measured(100, 0.2468, 1.441, 15900);
  in_use.all.offset_adu = SensorFigure{503.2, 0.01};
  SensorTemperature warm, cold;
  warm.temperature_c = 5;
  warm.dark_e_s = SensorFigure{0.02, 0.001};
  cold.temperature_c = -9.93;
  cold.dark_e_s = SensorFigure{0.00312, 0.0001};
  in_use.temperatures = {cold, warm};
  std::vector<std::string> changes;
  const auto text = rig_with_sensor(
      kRig, "rig.toml",
      {measured(0, 0.78, 3.44, 51000), in_use, measured(50, 0.44, 2.1, 29000), measured(300, 0.03, 1.1, 1900)},
      changes);
  ASSERT_TRUE(text.ok()) << text.error().message();
  const auto rig = parse_rig(*text, "new");
  ASSERT_TRUE(rig.ok());
  ASSERT_EQ(rig->gains.rows.size(), 4u);
  const double settings[] = {0, 50, 100, 300}, noise[] = {3.44, 2.1, 1.441, 1.1}, gain[] = {0.78, 0.44, 0.2468, 0.03};
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_EQ(rig->gains.rows[i].setting, settings[i]);
    EXPECT_EQ(rig->gains.rows[i].read_noise_e, noise[i]);
    EXPECT_EQ(rig->gains.rows[i].gain_e_adu, gain[i]);
    EXPECT_TRUE(rig->gains.rows[i].full_well_e.has_value());
  }
  EXPECT_EQ(rig->sensor.offset_adu, 503.2);
  EXPECT_EQ(rig->sensor.dark_e_s, 0.00312);
  EXPECT_EQ(rig->sensor.dark_reference_c, -9.9);
  EXPECT_NE(text->find("offset_adu = 503.2     # of a bias"), std::string::npos);
  EXPECT_NE(text->find("gain_e_adu = 0.78    # the maker says so"), std::string::npos);
  expect_kept(kRig, *text,
              {"offset_adu = 500     # of a bias", "gain_e_adu = 0.25", "read_noise_e = 3.5", "read_noise_e = 1.5"});
  EXPECT_EQ(std::count(changes.begin(), changes.end(), "sensor.gains 50: new"), 1);

  // The second time nothing changes.
  std::vector<std::string> again;
  const auto same = rig_with_sensor(*text, "rig.toml", {in_use, measured(50, 0.44, 2.1, 29000)}, again);
  ASSERT_TRUE(same.ok());
  EXPECT_EQ(*same, *text);
  EXPECT_TRUE(again.empty());
}

TEST(SensorRig, LimitsAreNotWritten) {
  SensorSetting s = measured(100, 0.25, 0.4, 9000);
  s.all.read_noise_is_limit = s.all.full_well_is_limit = true;
  std::vector<std::string> changes;
  const auto text = rig_with_sensor(kRig, "rig.toml", {s}, changes);
  ASSERT_TRUE(text.ok());
  EXPECT_EQ(*text, kRig);
}

TEST(SensorRig, RefusesAnotherSensorAndFormsWithoutPlace) {
  std::vector<std::string> changes;
  SensorSetting other = measured(100, 0.25, 1.5, 16000);
  other.width = 640;
  EXPECT_EQ(rig_with_sensor(kRig, "rig.toml", {other}, changes).error().code(), Code::kNoMatch);
  SensorSetting nameless = measured(100, 0.25, 1.5, 16000);
  nameless.gain_setting.reset();
  EXPECT_EQ(rig_with_sensor(kRig, "rig.toml", {nameless}, changes).error().code(), Code::kInvalidInput);
  std::string in_one_line = kRig;
  const std::size_t from = in_one_line.find("# measured once"), to = in_one_line.find("[cooler]");
  in_one_line.replace(from, to - from,
                      "gains = [{setting = 100, gain_e_adu = 0.25, read_noise_e = 1.5, full_well_e = 9}]\n");
  const auto changed = rig_with_sensor(in_one_line, "rig.toml", {measured(100, 0.26, 1.6, 16000)}, changes);
  ASSERT_TRUE(changed.ok()) << changed.error().message();
  EXPECT_NE(changed->find("{setting = 100, gain_e_adu = 0.26, read_noise_e = 1.6, full_well_e = 16000}"),
            std::string::npos)
      << *changed;
  EXPECT_EQ(rig_with_sensor(in_one_line, "rig.toml", {measured(50, 0.4, 2, 16000)}, changes).error().code(),
            Code::kInvalidInput);
}

TEST(TomlEdit, PlacesAreCountedInCharacters) {
  const auto text = with_value("a = [\"größe\", 5]\n[t]\n\"ä\" = 1 # öl\nb = 2\n", "t", "b", "3");
  ASSERT_TRUE(text.ok());
  EXPECT_EQ(*text, "a = [\"größe\", 5]\n[t]\n\"ä\" = 1 # öl\nb = 3\n");
  const auto first = with_value(*text, "t", "ä", "7");
  EXPECT_EQ(*first, "a = [\"größe\", 5]\n[t]\n\"ä\" = 7 # öl\nb = 3\n");
  EXPECT_EQ(*with_value(*first, "t", "c", "1"), *first + "c = 1\n");
  EXPECT_FALSE(with_value(*first, "nothing", "c", "1").ok());
}

}  // namespace
}  // namespace ng::app
