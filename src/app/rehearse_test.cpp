#include "app/rehearse.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "app/message.h"
#include "base/parallel.h"
#include "io/open_frame.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;

class Rehearse : public testing::Test {
 protected:
  Rehearse()
      : folder_(fs::temp_directory_path() / ("ng-rehearse-" + std::to_string(getpid()) + "-" +
                                             testing::UnitTest::GetInstance()->current_test_info()->name())) {
    fs::create_directories(folder_);
  }
  ~Rehearse() override { fs::remove_all(folder_); }

  [[nodiscard]] RehearseRequest request(const std::string& name) const {
    RehearseRequest r;
    r.out = folder_ / name;
    r.catalogue = "none";
    r.filters = {"L", "R"};
    r.lights = 2;
    r.darks = r.flats = r.bias = r.dark_flats = 1;
    r.width = 200;
    r.height = 150;
    return r;
  }
  [[nodiscard]] static std::string bytes(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
  }
  fs::path folder_;
};

TEST_F(Rehearse, WritesFramesAndTruth) {
  RehearseRequest r = request("night");
  r.truth_images = folder_ / "truth";
  const auto reply = rehearse(r, {});
  ASSERT_TRUE(reply.ok()) << reply.error().message();
  EXPECT_EQ(reply->frames.size(), 4u + 1 + 2 + 1 + 1);
  EXPECT_EQ(reply->truth_images.size(), 2u);
  for (const std::string& frame : reply->frames) EXPECT_TRUE(fs::is_regular_file(r.out / frame)) << frame;
  for (const std::string& image : reply->truth_images) EXPECT_TRUE(fs::is_regular_file(image)) << image;
  EXPECT_TRUE(fs::is_regular_file(r.out / "light/light_L_0001.fits"));
  EXPECT_TRUE(fs::is_regular_file(r.out / "dark-flat/dark-flat_0001.fits"));
  const auto truth = nlohmann::json::parse(bytes(r.out / "truth.json"));
  EXPECT_EQ(truth["lights"].size(), 4u);
  EXPECT_EQ(truth["stars"]["ra_deg"].size(), static_cast<std::size_t>(reply->stars));
  EXPECT_EQ(truth["stars"]["electrons"]["R"].size(), static_cast<std::size_t>(reply->stars));
  EXPECT_EQ(truth["lights"][0]["from_sky"].size(), 8u);
  EXPECT_EQ(to_json(*reply)["counts"][0]["frames"], 2);
}

// Headers read back by our own reader say what the scenario says.
TEST_F(Rehearse, HeadersTellTheFacts) {
  const RehearseRequest r = request("night");
  ASSERT_TRUE(rehearse(r, {}).ok());
  const auto light = io::open_frame(r.out / "light/light_R_0002.fits");
  ASSERT_TRUE(light.ok()) << light.error().message();
  const FrameFacts& facts = (*light)->facts();
  EXPECT_EQ(facts.kind, FrameKind::kLight);
  EXPECT_EQ(facts.filter, "R");
  EXPECT_EQ(facts.exposure_s, 240);
  EXPECT_EQ(facts.electrons_per_adu, 0.78);
  EXPECT_EQ(facts.read_noise_e, 1.7);
  EXPECT_EQ(facts.gain_setting, 100);
  EXPECT_EQ(facts.offset_setting, 50);
  EXPECT_EQ(facts.pixel_size_um, 6.0);
  EXPECT_EQ(facts.focal_length_mm, 650);
  EXPECT_NEAR(*facts.ra_deg, 97.98, 0.1);
  EXPECT_NEAR(*facts.dec_deg, 4.94, 0.1);
  EXPECT_EQ(facts.site_longitude_deg, 9.3);
  EXPECT_FALSE(facts.bayer);
  EXPECT_THAT(facts.warnings, testing::IsEmpty());
  const std::pair<const char*, FrameKind> kinds[] = {{"dark/dark_0001.fits", FrameKind::kDark},
                                                     {"flat/flat_L_0001.fits", FrameKind::kFlat},
                                                     {"bias/bias_0001.fits", FrameKind::kBias},
                                                     {"dark-flat/dark-flat_0001.fits", FrameKind::kDarkFlat}};
  for (const auto& [path, kind] : kinds) {
    const auto frame = io::open_frame(r.out / path);
    ASSERT_TRUE(frame.ok());
    EXPECT_EQ((*frame)->facts().kind, kind) << path;
    EXPECT_THAT((*frame)->facts().warnings, testing::IsEmpty()) << path;
  }
}

TEST_F(Rehearse, MosaicNightHasNoFilterAndAPattern) {
  RehearseRequest r = request("colour");
  r.filters.clear();
  r.mosaic = true;
  ASSERT_TRUE(rehearse(r, {}).ok());
  const auto light = io::open_frame(r.out / "light/light_0001.fits");
  ASSERT_TRUE(light.ok()) << light.error().message();
  EXPECT_EQ((*light)->facts().bayer, BayerPattern::kRggb);
  EXPECT_EQ((*light)->facts().filter, "");
}

// Every file of two runs, byte for byte, with one thread and with three.
TEST_F(Rehearse, SameSeedSameBytes) {
  RehearseRequest r = request("one");
  const auto first = rehearse(r, {});
  ASSERT_TRUE(first.ok());
  ThreadPool pool(3);
  Context ctx;
  ctx.pool = &pool;
  r.out = folder_ / "three";
  const auto second = rehearse(r, ctx);
  ASSERT_TRUE(second.ok());
  ASSERT_EQ(first->frames, second->frames);
  for (const std::string& frame : first->frames)
    EXPECT_TRUE(bytes(folder_ / "one" / frame) == bytes(folder_ / "three" / frame)) << frame;
  EXPECT_TRUE(bytes(folder_ / "one/truth.json") == bytes(folder_ / "three/truth.json"));
}

// One file in the way: nothing is written, nothing of the user's is touched.
TEST_F(Rehearse, NothingIsOverwritten) {
  const RehearseRequest r = request("night");
  fs::create_directories(r.out / "flat");
  std::ofstream(r.out / "flat/flat_R_0001.fits") << "mine";
  const auto reply = rehearse(r, {});
  ASSERT_FALSE(reply.ok());
  EXPECT_EQ(reply.error().code(), Code::kExists);
  EXPECT_THAT(reply.error().message(), HasSubstr("flat_R_0001.fits is there already"));
  EXPECT_EQ(bytes(r.out / "flat/flat_R_0001.fits"), "mine");
  EXPECT_FALSE(fs::exists(r.out / "light"));
  EXPECT_FALSE(fs::exists(r.out / "truth.json"));
}

// Files that are in nobody's way stay, and the night is written beside them.
TEST_F(Rehearse, OtherFilesStay) {
  const RehearseRequest r = request("night");
  fs::create_directories(r.out);
  std::ofstream(r.out / "notes.txt") << "mine";
  ASSERT_TRUE(rehearse(r, {}).ok());
  EXPECT_EQ(bytes(r.out / "notes.txt"), "mine");
}

// Stopped in the middle of the frames: no frame, no part of one and no folder of ours is left; the user's file is.
TEST_F(Rehearse, CancelLeavesNothing) {
  class StopAtSecondFrame : public Progress {
   public:
    explicit StopAtSecondFrame(CancelToken& token) : token_(token) {}
    void begin(std::string_view stage, std::int64_t) override { taking_ = stage == "taking frames"; }
    void advance(std::int64_t) override {
      if (taking_ && ++frames_ == 2) token_.cancel();
    }
    int frames_ = 0;

   private:
    CancelToken& token_;
    bool taking_ = false;
  };
  const RehearseRequest r = request("night");
  fs::create_directories(r.out);
  std::ofstream(r.out / "notes.txt") << "mine";
  CancelToken token;
  StopAtSecondFrame progress(token);
  Context ctx;
  ctx.cancel = &token;
  ctx.progress = &progress;
  const auto reply = rehearse(r, ctx);
  ASSERT_FALSE(reply.ok());
  EXPECT_EQ(reply.error().code(), Code::kCancelled);
  EXPECT_EQ(progress.frames_, 2);
  std::vector<std::string> left;
  for (const auto& entry : fs::recursive_directory_iterator(r.out)) left.push_back(entry.path().filename());
  EXPECT_THAT(left, testing::ElementsAre("notes.txt"));
}

TEST_F(Rehearse, SaysWhatIsMissing) {
  RehearseRequest r = request("night");
  r.catalogue = (folder_ / "no-such-file").string();
  EXPECT_EQ(rehearse(r, {}).error().code(), Code::kNotFound);
  EXPECT_FALSE(fs::exists(r.out));
  r = request("night");
  r.out = "/proc/night";  // no folder can be made there, whoever asks
  const auto reply = rehearse(r, {});
  ASSERT_FALSE(reply.ok());
  EXPECT_THAT(reply.error().message(), HasSubstr("cannot make the folder /proc/night"));
}

}  // namespace
}  // namespace ng::app
