#include "app/settings_text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include "app/init.h"
#include "app/settings.h"
#include "app/text_file.h"
#include "app/workspace.h"

namespace ng::app {
namespace {

using testing::HasSubstr;

constexpr const char* kText = R"(# mine
name = "Höhe \"Süd\""   # where I stand
latitude_deg = 47.25      # north ± nothing

[sky] # dark
seeing_fwhm_arcsec=3
# b_minus_v = 0.93          # colour
# only words = none of ours, see [[0]]

[[filters]]
name = "L"
  width_nm = 300   # ä
[[filters]]
name = "R" # red
# thickness_mm = 2.0
curve = [[400, 62], # low
         [550, 87]]
)";

TEST(SettingsText, ListsWhatStandsAndWhatCouldStand) {
  const auto all = settings_of(kText, "a.toml");
  ASSERT_TRUE(all.ok()) << all.error().message();
  std::vector<std::string> keys;
  for (const Setting& s : *all) keys.push_back((s.set ? "" : "# ") + s.key + " " + s.kind);
  EXPECT_THAT(
      keys, testing::ElementsAre("name text", "latitude_deg number", "sky.seeing_fwhm_arcsec number",
                                 "# sky.b_minus_v number", "filters[0].name text", "filters[0].width_nm number",
                                 "filters[1].name text", "# filters[1].thickness_mm number", "filters[1].curve list"));
  EXPECT_EQ((*all)[0].value, "Höhe \"Süd\"");
  EXPECT_EQ((*all)[0].about, "where I stand");
  EXPECT_EQ((*all)[3].about, "colour");
}

// Every line but the changed ones is the same bytes.
TEST(SettingsText, ChangesTheValueAndNothingElse) {
  const auto changed = change_settings(kText, "a.toml",
                                       {{"name", "Berg #2"},
                                        {"sky.seeing_fwhm_arcsec", 2.5},
                                        {"sky.b_minus_v", 0.8},
                                        {"filters[0].width_nm", nullptr},
                                        {"filters[1].name", "Rot \\ \"r\""}});
  ASSERT_TRUE(changed.ok()) << changed.error().message();
  std::string wanted = kText;
  const std::pair<const char*, const char*> lines[] = {
      {R"(name = "Höhe \"Süd\""   # where)", R"(name = "Berg #2"   # where)"},
      {"seeing_fwhm_arcsec=3\n", "seeing_fwhm_arcsec=2.5\n"},
      {"# b_minus_v = 0.93          # colour", "b_minus_v = 0.8          # colour"},
      {"  width_nm = 300   # ä", "#   width_nm = 300   # ä"},
      {R"(name = "R" # red)", R"(name = "Rot \\ \"r\"" # red)"}};
  for (const auto& [from, to] : lines) wanted.replace(wanted.find(from), std::string(from).size(), to);
  EXPECT_EQ(*changed, wanted);
  // And back, through what can be set again.
  const auto again = change_settings(*changed, "a.toml", {{"filters[0].width_nm", 300}});
  ASSERT_TRUE(again.ok()) << again.error().message();
  EXPECT_THAT(*again, HasSubstr("\nwidth_nm = 300   # ä"));
}

TEST(SettingsText, RefusesWhatItCannotDoWithoutLoss) {
  const std::pair<SettingChange, const char*> cases[] = {
      {{"filters[1].curve", Json::parse("[[1, 2]]")}, "a.toml:16: filters[1].curve cannot be changed from here"},
      {{"filters[2].name", "B"}, "a.toml has no key filters[2].name"},
      {{"latitude_deg", "north"}, "latitude_deg is \"north\": give a number like 47.25"}};
  for (const auto& [change, words] : cases) {
    const auto changed = change_settings(kText, "a.toml", {change});
    ASSERT_FALSE(changed.ok()) << words;
    EXPECT_THAT(changed.error().message(), HasSubstr(words));
  }
  EXPECT_THAT(settings_of("a = \n", "b.toml").error().message(), HasSubstr("b.toml:1"));
}

class SettingsTest : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = std::filesystem::temp_directory_path() / ("ng_settings_" + std::to_string(getpid()));
    std::filesystem::remove_all(folder_);
    InitRequest request;
    request.folder = folder_;
    ASSERT_TRUE(init(request, {}).ok());
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }
  std::filesystem::path folder_;
};

TEST_F(SettingsTest, EveryKeyOfTheTemplatesCanBeSetToWhatItShows) {
  for (const SettingsFile file : {SettingsFile::kSite, SettingsFile::kRig}) {
    SettingsRequest request;
    request.workspace = folder_;
    request.file = file;
    const auto shown = settings(request, {});
    ASSERT_TRUE(shown.ok()) << shown.error().message();
    EXPECT_GT(shown->settings.size(), 10u);
    for (const Setting& s : shown->settings) {
      if (s.name == "file") continue;  // a horizon file that is not there
      request.changes = {{s.key, s.value}};
      request.seen = shown->seen;
      request.check = true;
      const auto checked = settings(request, {});
      ASSERT_TRUE(checked.ok()) << s.key << ": " << checked.error().message();
      EXPECT_EQ(checked->fault, "") << s.key;
      EXPECT_FALSE(checked->written);
    }
  }
}

TEST_F(SettingsTest, WritesWhatIsGoodAndKeepsWhatWas) {
  SettingsRequest request;
  request.workspace = folder_;
  const auto shown = settings(request, {});
  ASSERT_TRUE(shown.ok());
  const std::string original = *read_text(folder_ / "site.toml");
  request.seen = shown->seen;
  request.changes = {{"latitude_deg", 95}};
  const auto bad = settings(request, {});
  ASSERT_FALSE(bad.ok());
  request.check = true;
  EXPECT_EQ(settings(request, {})->fault, bad.error().message());
  request.check = false;
  EXPECT_THAT(bad.error().message(), testing::AllOf(HasSubstr("site.toml:"), HasSubstr("latitude_deg")));
  request.changes = {{"latitude_deg", -33.5}};
  const auto good = settings(request, {});
  ASSERT_TRUE(good.ok()) << good.error().message();
  EXPECT_TRUE(good->written);
  EXPECT_EQ(*read_text(folder_ / "site.before-1.toml"), original);
  const auto workspace = read_workspace(folder_);
  ASSERT_TRUE(workspace.ok());
  EXPECT_EQ(workspace->site.latitude_deg, -33.5);
  // The old reply is of another content now.
  EXPECT_THAT(settings(request, {}).error().message(), HasSubstr("was changed meanwhile"));
  // What the person wrote survives every later change.
  request.seen = good->seen;
  request.changes = {{"latitude_deg", -34.5}};
  EXPECT_EQ(settings(request, {})->kept, "site.before-2.toml");
  EXPECT_EQ(*read_text(folder_ / "site.before-1.toml"), original);
}

}  // namespace
}  // namespace ng::app
