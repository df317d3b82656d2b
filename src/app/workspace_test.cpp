#include "app/workspace.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <fstream>

#include "app/init.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;
using testing::StartsWith;

constexpr const char* kPlace = "latitude_deg = 47\nlongitude_deg = 11\n";

std::string site_error(const std::string& text) {
  const auto site = parse_site(text, "site.toml", ".");
  return site.ok() ? "" : site.error().message();
}

std::string rig_text(const std::string& optics, const std::string& more) {
  return "[optics]\n" + optics +
         "[sensor]\nwidth_px = 1000\nheight_px = 800\npixel_um = 4\n[[sensor.gains]]\nsetting = 10\ngain_e_adu = 1\n"
         "read_noise_e = 2\n[[filters]]\nname = \"V\"\ncentre_nm = 550\nwidth_nm = 88\n" +
         more;
}
constexpr const char* kOptics = "aperture_mm = 100\nfocal_length_mm = 500\n";

std::string rig_error(const std::string& text) {
  const auto rig = parse_rig(text, "rig.toml");
  return rig.ok() ? "" : rig.error().message();
}

class Folder : public testing::Test {
 protected:
  void SetUp() override {
    path_ = fs::path(testing::TempDir()) / ("workspace_" + std::to_string(::getpid()));
    fs::remove_all(path_);
  }
  void TearDown() override { fs::remove_all(path_); }
  fs::path path_;
};
using WorkspaceFolder = Folder;

TEST(WorkspaceSite, ErrorsNameFileLineAndKey) {
  EXPECT_EQ(site_error(kPlace), "");
  EXPECT_THAT(site_error("latitude_deg = 91\n"),
              StartsWith("site.toml:1: latitude_deg: is 91: it must lie between -90"));
  EXPECT_THAT(site_error("latitude_deg = 47\n"), HasSubstr("longitude_deg: is missing"));
  EXPECT_THAT(site_error("\nlatitude = 47\n"),
              StartsWith("site.toml:2: latitude: no such key; did you mean latitude_deg?"));
  EXPECT_THAT(site_error("latitude_rad = 1\n"),
              StartsWith("site.toml:1: latitude_rad: no such key; write latitude_deg"));
  EXPECT_THAT(site_error(std::string(kPlace) + "[air]\nhumidity_percent = \"dry\"\n"),
              StartsWith("site.toml:4: air.humidity_percent: must be a number"));
  EXPECT_THAT(site_error(std::string(kPlace) + "[horizon]\nazimuth_altitude_deg = [[0, 5], [0, 9]]\n"),
              StartsWith("site.toml:4: horizon.azimuth_altitude_deg: horizon: azimuths must rise"));
  EXPECT_THAT(site_error(std::string(kPlace) + "[horizon]\nfile = \"none.txt\"\n"), HasSubstr("none.txt"));
}

TEST(WorkspaceSite, TimeZonesAreThoseOfTheSystem) {
  if (!fs::is_regular_file("/usr/share/zoneinfo/Europe/Vienna")) GTEST_SKIP() << "no time zones here";
  EXPECT_EQ(site_error(std::string(kPlace) + "time_zone = \"Europe/Vienna\"\n"), "");
  EXPECT_THAT(site_error(std::string(kPlace) + "time_zone = \"Europe/Viena\"\n"),
              HasSubstr("no time zone 'Europe/Viena'; did you mean Europe/Vienna?"));
}

// Corners by hand: half-way between (350, 20) and (10, 40) around north is 30.
TEST(WorkspaceSite, HorizonFile) {
  const auto h = parse_horizon("azimuth, altitude\n10, 40\n350;20\n180\t8.5\n", "h.txt");
  ASSERT_TRUE(h.ok()) << h.error().message();
  EXPECT_NEAR(h->altitude_deg(0), 30, 1e-12);
  EXPECT_NEAR(h->altitude_deg(360), 30, 1e-12);
  EXPECT_NEAR(h->altitude_deg(180), 8.5, 1e-12);
  EXPECT_EQ(h->gaps(60).size(), 2u);
  EXPECT_THAT(h->gaps(60)[0], HasSubstr("from azimuth 10 to 180"));
  EXPECT_THAT(parse_horizon("0 10\n90\n", "h.txt").error().message(), StartsWith("h.txt:2: an azimuth without"));
  EXPECT_THAT(parse_horizon("nothing\n", "h.txt").error().message(), HasSubstr("no line of two numbers"));
  EXPECT_EQ(parse_horizon("0 10\n180 5\n360 10\n", "h.txt")->points.size(), 2u);
}

TEST(WorkspaceRig, ReadsAndChecks) {
  const auto rig = parse_rig(rig_text(kOptics, "[mount]\nflip_min = 4\n"), "rig.toml");
  ASSERT_TRUE(rig.ok()) << rig.error().message();
  EXPECT_EQ(rig->gain_setting, 10);
  EXPECT_EQ(rig->sensor.read_noise_e, 2);
  EXPECT_EQ(rig->mount.flip_min, 4);
  EXPECT_FALSE(rig->guide);
  EXPECT_EQ(rig->filter("V")->width_nm, 88);
  EXPECT_THAT(rig->filter("W").error().message(), HasSubstr("no filter W; it has V"));
}

TEST(WorkspaceRig, ErrorsNameFileLineAndKey) {
  EXPECT_THAT(rig_error(rig_text("aperture_mm = 0\nfocal_length_mm = 500\n", "")),
              StartsWith("rig.toml:2: optics.aperture_mm: is 0: it must be above 0"));
  EXPECT_THAT(rig_error(rig_text("aperture_cm = 10\nfocal_length_mm = 500\n", "")),
              StartsWith("rig.toml:2: optics.aperture_cm: no such key; write aperture_mm"));
  EXPECT_THAT(rig_error(rig_text("focal_length_mm = 500\n", "")),
              StartsWith("rig.toml:1: optics.aperture_mm: is missing"));
  EXPECT_THAT(rig_error("[optics]\naperture_mm = 1\nfocal_length_mm = 3\n[sensor]\nwidth_px = 99\nheight_px = 99\n"
                        "pixel_um = 4\n[[filters]]\nname = \"V\"\ncentre_nm = 550\nwidth_nm = 88\n"),
              HasSubstr("the sensor has no gain: give gain_e_adu and read_noise_e"));
  EXPECT_THAT(rig_error(rig_text(kOptics, "[[filters]]\nname = \"V\"\ncentre_nm = 550\nwidth_nm = 88\n")),
              HasSubstr("two filters V"));
  EXPECT_THAT(rig_error(rig_text(kOptics, "[gide]\naperture_mm = 30\n")), HasSubstr("did you mean guide?"));
}

TEST_F(WorkspaceFolder, InitWritesWhatReadsBack) {
  InitRequest request;
  request.folder = path_ / "nights";
  request.latitude_deg = -33.5;
  request.longitude_deg = 150.25;
  request.reducer = 0.8;
  request.time_zone = "UTC";
  const auto reply = init(request, {});
  ASSERT_TRUE(reply.ok()) << reply.error().message();
  EXPECT_THAT(reply->to_change, testing::Not(testing::Contains("site.toml: latitude_deg")));
  EXPECT_THAT(reply->to_change, testing::Contains("rig.toml: aperture_mm"));
  const auto w = read_workspace(request.folder);
  ASSERT_TRUE(w.ok()) << w.error().message();
  EXPECT_EQ(w->site.latitude_deg, -33.5);
  EXPECT_EQ(w->rig.optics.effective_focal_length_mm(), 520);
  EXPECT_EQ(w->rig.gains.rows.size(), 3u);
  EXPECT_EQ(w->rig.filters.size(), 7u);
  EXPECT_EQ(init(request, {}).error().code(), Code::kExists);
}

TEST_F(WorkspaceFolder, InitCompletesAndOverwritesNothing) {
  fs::create_directories(path_);
  std::ofstream(path_ / "site.toml") << "mine";
  EXPECT_THAT(find_workspace(path_, path_).error().message(), HasSubstr("site.toml but no rig.toml"));
  InitRequest request;
  request.folder = path_;
  const auto reply = init(request, {});
  ASSERT_TRUE(reply.ok()) << reply.error().message();
  EXPECT_THAT(reply->kept, testing::ElementsAre("site.toml"));
  std::string word;
  std::ifstream(path_ / "site.toml") >> word;
  EXPECT_EQ(word, "mine");
}

TEST_F(WorkspaceFolder, InitRefusesValuesBeforeItWrites) {
  InitRequest request;
  request.folder = path_;
  request.latitude_deg = 91;
  EXPECT_THAT(init(request, {}).error().message(), HasSubstr("latitude_deg: is 91"));
  EXPECT_FALSE(fs::exists(path_));
}

TEST_F(WorkspaceFolder, FoundUpwards) {
  InitRequest request;
  request.folder = path_;
  ASSERT_TRUE(init(request, {}).ok());
  EXPECT_EQ(*find_workspace(std::nullopt, path_ / "frames"), path_);
  EXPECT_THAT(find_workspace(std::nullopt, "/").error().message(), HasSubstr("nightglass init"));
  EXPECT_THAT(find_workspace(path_ / "frames", "/").error().message(), HasSubstr("is no workspace"));
}

}  // namespace
}  // namespace ng::app
