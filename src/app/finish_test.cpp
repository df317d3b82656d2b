#include "app/finish.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <fstream>
#include <limits>
#include <sstream>

#include "base/parallel.h"
#include "io/fits_writer.h"
#include "io/open_frame.h"
#include "math/random.h"

namespace ng::app {
namespace {

using testing::Contains;
using testing::HasSubstr;
namespace fs = std::filesystem;

constexpr int kWidth = 420;
constexpr int kHeight = 300;
constexpr float kNan = std::numeric_limits<float>::quiet_NaN();

class Finish : public testing::Test {
 protected:
  Finish() {
    folder_ = fs::temp_directory_path() / ("ng-finish-" + std::to_string(getpid()) + "-" +
                                           testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::create_directories(folder_);
  }
  ~Finish() override { fs::remove_all(folder_); }

  // Sky with a slope, a nebula, stars of several tints, noise; NaN along two edges and at one pixel.
  [[nodiscard]] static Image<float> scene(double throughput, double nebula, double tint, std::uint64_t seed) {
    Image<float> image(kWidth, kHeight);
    for (int y = 0; y < kHeight; ++y) {
      math::Random random(seed, static_cast<std::uint64_t>(y));
      for (int x = 0; x < kWidth; ++x) {
        const double r2 = std::pow((x - 210) / 60.0, 2) + std::pow((y - 150) / 45.0, 2);
        const double sky = throughput * (300 + 0.1 * x - 0.05 * y);
        image.plane()(x, y) = static_cast<float>(sky + throughput * nebula * std::exp(-r2) + 4 * random.normal());
      }
    }
    math::Random place(99, 0);
    for (int i = 0; i < 120; ++i) {
      const double cx = 10 + place.uniform() * (kWidth - 20);
      const double cy = 10 + place.uniform() * (kHeight - 20);
      const double colour = std::exp(tint * 0.4 * (place.uniform() - 0.5));
      const double peak = throughput * colour * 20000 / (1 + 0.6 * i);
      for (int y = std::max(0, static_cast<int>(cy) - 9); y < std::min(kHeight, static_cast<int>(cy) + 10); ++y)
        for (int x = std::max(0, static_cast<int>(cx) - 9); x < std::min(kWidth, static_cast<int>(cx) + 10); ++x)
          image.plane()(x, y) +=
              static_cast<float>(peak * std::exp(-((x - cx) * (x - cx) + (y - cy) * (y - cy)) / (2 * 1.6 * 1.6)));
    }
    return image;
  }

  fs::path write_master(const std::string& name, const std::string& filter, std::vector<Image<float>> planes,
                        bool with_extensions = true) {
    Image<float> coverage(kWidth, kHeight, 1, 12.0f);
    for (auto& plane : planes) {
      for (int y = 0; y < kHeight; ++y)
        for (int x = 0; x < kWidth; ++x)
          if (x < 17 || y >= kHeight - 9) plane.plane()(x, y) = kNan;
      plane.plane()(200, 100) = kNan;
    }
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x)
        if (x < 17 || y >= kHeight - 9) coverage.plane()(x, y) = 0;
    const Image<float> variance(kWidth, kHeight, 1, 16.0f);
    auto writer = io::FitsWriter::create(folder_ / name, io::Overwrite::kRefuse);
    EXPECT_TRUE(writer.ok());
    const auto add = [&](const std::string& extension, int count) {
      io::FitsImageSpec spec;
      spec.name = extension;
      spec.width = kWidth;
      spec.height = kHeight;
      spec.planes = count;
      if (extension.empty() && !filter.empty()) spec.cards.push_back({"FILTER", filter, ""});
      return *writer->add_image(spec);
    };
    const int primary = add("", static_cast<int>(planes.size()));
    for (std::size_t p = 0; p < planes.size(); ++p)
      EXPECT_TRUE(writer->write_rows(primary, static_cast<int>(p), 0, View<const float>(planes[p].plane())).ok());
    if (with_extensions) {
      const int v = add("VARIANCE", static_cast<int>(planes.size()));
      for (std::size_t p = 0; p < planes.size(); ++p)
        EXPECT_TRUE(writer->write_rows(v, static_cast<int>(p), 0, variance.plane()).ok());
      EXPECT_TRUE(writer->write_rows(add("COVERAGE", 1), 0, 0, View<const float>(coverage.plane())).ok());
    }
    EXPECT_TRUE(writer->commit().ok());
    return folder_ / name;
  }
  fs::path mono(const std::string& filter, double throughput, double nebula, double tint, std::uint64_t seed) {
    std::vector<Image<float>> planes;
    planes.push_back(scene(throughput, nebula, tint, seed));
    return write_master(filter + ".fits", filter, std::move(planes));
  }
  std::vector<fs::path> lrgb() {
    return {mono("L", 2.0, 150, 0, 1), mono("R", 0.7, 250, 1, 2), mono("G", 1.0, 80, 0, 3), mono("B", 0.8, 60, -1, 4)};
  }
  fs::path colour_master(bool with_extensions = true) {
    std::vector<Image<float>> planes;
    planes.push_back(scene(0.7, 250, 1, 2));
    planes.push_back(scene(1.0, 80, 0, 3));
    planes.push_back(scene(0.8, 60, -1, 4));
    return write_master("colour.fits", "", std::move(planes), with_extensions);
  }

  [[nodiscard]] static std::string bytes(const fs::path& path) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
  }
  void put(const fs::path& path, const std::string& text) { std::ofstream(path, std::ios::binary) << text; }

  FinishReply finish(const FinishRequest& request, const Context& ctx = {}) {
    auto reply = finish_picture(request, ctx);
    EXPECT_TRUE(reply.ok()) << (reply.ok() ? "" : reply.error().message());
    return reply.ok() ? *reply : FinishReply{};
  }
  std::string refusal(const FinishRequest& request, const Context& ctx = {}) {
    const auto before = std::distance(fs::directory_iterator(folder_), {});
    auto reply = finish_picture(request, ctx);
    EXPECT_FALSE(reply.ok());
    EXPECT_EQ(std::distance(fs::directory_iterator(folder_), {}), before);  // nothing new is left behind
    return reply.ok() ? "" : reply.error().message();
  }
  // Median of the display values, 0 to 1, of a part of one plane of a picture.
  [[nodiscard]] double display(const fs::path& picture, int plane, const Region& part) {
    auto source = io::open_frame(picture);
    EXPECT_TRUE(source.ok());
    const auto image = *read_plane(**source, plane);
    std::vector<float> values;
    for (int y = part.y0; y < part.y0 + part.height; ++y)
      for (int x = part.x0; x < part.x0 + part.width; ++x) values.push_back(image.plane()(x, y));
    std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2), values.end());
    return static_cast<double>(values[values.size() / 2]) / 65535;
  }

  fs::path folder_;
};

TEST_F(Finish, LrgbGivesAColourPictureUnaided) {
  const auto reply = finish({.masters = lrgb(), .out = folder_ / "p.png"});
  EXPECT_EQ(reply.planes, 3);
  EXPECT_EQ(reply.width, 403);  // without the uncovered edges; 3 of the 291 rows do not fill a block
  EXPECT_EQ(reply.height, 288);
  ASSERT_EQ(reply.steps.size(), 8u);
  EXPECT_EQ(reply.inputs.size(), 4u);
  // The stars' tints are symmetric around neutral: factors undo the throughput. 5 % is three standard errors of 40
  // stars that scatter by 12 %.
  EXPECT_NEAR(reply.steps[3].values["red_factor"].get<double>() * 0.7, 1, 0.06);
  EXPECT_NEAR(reply.steps[3].values["blue_factor"].get<double>() * 0.8, 1, 0.06);
  const Region sky{5, 5, 60, 40};
  const Region nebula{176, 140, 20, 20};
  for (int plane = 0; plane < 3; ++plane) EXPECT_NEAR(display(folder_ / "p.png", plane, sky), 0.10, 0.015) << plane;
  EXPECT_GT(display(folder_ / "p.png", 0, nebula), 0.3);
  EXPECT_GT(display(folder_ / "p.png", 0, nebula), 1.3 * display(folder_ / "p.png", 2, nebula));  // it is red
}

TEST_F(Finish, ItsRecipeGivesTheSameBytesWithAnyPool) {
  const auto masters = lrgb();
  finish({.masters = masters, .out = folder_ / "p.png"});
  ThreadPool pool(3);
  finish({.masters = masters, .out = folder_ / "q.png"}, {.pool = &pool});
  const auto again = finish({.masters = {}, .out = folder_ / "r.png", .recipe = folder_ / "p.recipe.toml"});
  EXPECT_EQ(bytes(folder_ / "p.png"), bytes(folder_ / "q.png"));
  EXPECT_EQ(bytes(folder_ / "p.png"), bytes(folder_ / "r.png"));
  EXPECT_EQ(bytes(folder_ / "p.recipe.toml"), bytes(folder_ / "r.recipe.toml"));
  EXPECT_TRUE(again.notes.empty());
}

TEST_F(Finish, AColourMasterAndEveryFormat) {
  const auto master = colour_master();
  for (const char* name : {"p.png", "p2.tif", "p3.jpg"}) {
    const auto reply = finish({.masters = {master}, .out = folder_ / name});
    EXPECT_EQ(reply.planes, 3);
    EXPECT_TRUE(fs::file_size(folder_ / name) > 10000);
  }
  EXPECT_NEAR(display(folder_ / "p.png", 1, {5, 5, 60, 40}), 0.10, 0.015);
}

TEST_F(Finish, OneFilterGivesGreyAndMissingExtensionsAreSaid) {
  const auto grey = finish({.masters = {mono("Ha", 1, 100, 0, 5)}, .out = folder_ / "grey.png"});
  EXPECT_EQ(grey.planes, 1);
  const auto plain = finish({.masters = {colour_master(false)}, .out = folder_ / "plain.png"});
  EXPECT_THAT(plain.notes, Contains(HasSubstr("no VARIANCE")));
  EXPECT_EQ(plain.width, 403);  // coverage from the pixels themselves
}

TEST_F(Finish, ARecipeChangesWhatItSays) {
  const auto master = colour_master();
  finish({.masters = {master}, .out = folder_ / "p.png"});
  std::string text = bytes(folder_ / "p.recipe.toml");
  const auto replace = [&](const std::string& from, const std::string& to) {
    const auto at = text.find(from);
    ASSERT_NE(at, std::string::npos) << from;
    text.replace(at, from.size(), to);
  };
  replace("saturation = 1.2", "saturation = 0.0");
  replace("name = \"noise\"\non = true", "name = \"noise\"\non = false");
  put(folder_ / "my.toml", text);
  const auto grey = finish({.masters = {master}, .out = folder_ / "g.png", .recipe = folder_ / "my.toml"});
  EXPECT_FALSE(grey.steps[5].on);
  const Region nebula{176, 140, 20, 20};
  EXPECT_NEAR(display(folder_ / "g.png", 0, nebula), display(folder_ / "g.png", 2, nebula), 1e-4);
  EXPECT_GT(display(folder_ / "p.png", 0, nebula), display(folder_ / "p.png", 2, nebula) + 0.05);
  // Another master by the same recipe: allowed, and said.
  const auto other = finish({.masters = {mono("L", 1, 50, 0, 8)}, .out = folder_ / "o.png", .recipe = [&] {
                               put(folder_ / "tone.toml", "[[input]]\nxxh128 = 'ab'\n[[step]]\nname = 'tone'\n");
                               return folder_ / "tone.toml";
                             }()});
  EXPECT_THAT(other.notes, Contains(HasSubstr("not a file that the recipe was written for")));
  EXPECT_EQ(other.width, kWidth);  // not cropped: the step is not listed
}

TEST_F(Finish, NothingIsOverwrittenUnlessAllowed) {
  const auto master = colour_master();
  put(folder_ / "p.png", "mine");
  EXPECT_THAT(refusal({.masters = {master}, .out = folder_ / "p.png"}), HasSubstr("p.png is there already"));
  put(folder_ / "q.recipe.toml", "mine too");
  EXPECT_THAT(refusal({.masters = {master}, .out = folder_ / "q.png"}), HasSubstr("q.recipe.toml is there already"));
  EXPECT_EQ(bytes(folder_ / "p.png"), "mine");
  EXPECT_EQ(bytes(folder_ / "q.recipe.toml"), "mine too");
  finish({.masters = {master}, .out = folder_ / "p.png", .overwrite = true});
  EXPECT_NE(bytes(folder_ / "p.png"), "mine");
}

TEST_F(Finish, BadInputIsSaidInOneSentence) {
  const auto l = mono("L", 1, 50, 0, 8);
  EXPECT_THAT(refusal({.masters = {}, .out = folder_ / "p.png"}), HasSubstr("no master is given"));
  EXPECT_THAT(refusal({.masters = {l}, .out = folder_ / "p.gif"}), HasSubstr(".png, .tif or .jpg"));
  EXPECT_THAT(refusal({.masters = {l, l}, .out = folder_ / "p.png"}), HasSubstr("two masters have the filter"));
  EXPECT_THAT(refusal({.masters = {folder_ / "none.fits"}, .out = folder_ / "p.png"}), HasSubstr("none.fits"));
  EXPECT_THAT(refusal({.masters = {l}, .out = folder_ / "sub" / "p.png"}), HasSubstr("sub"));
  EXPECT_THAT(refusal({.masters = {l}, .out = folder_ / "p.png", .recipe = folder_ / "none.toml"}),
              HasSubstr("none.toml"));
  std::vector<Image<float>> empty;
  empty.emplace_back(kWidth, kHeight, 1, kNan);
  EXPECT_THAT(refusal({.masters = {write_master("nan.fits", "R", std::move(empty), false)}, .out = folder_ / "p.png"}),
              HasSubstr("covered"));
  put(folder_ / "crop.toml", "[[step]]\nname = 'crop'\nx_px = 400\ny_px = 0\nwidth_px = 40\nheight_px = 40\n");
  EXPECT_THAT(refusal({.masters = {l}, .out = folder_ / "p.png", .recipe = folder_ / "crop.toml"}),
              HasSubstr("remove these keys"));
  put(folder_ / "sky.toml", "[[step]]\nname = 'background'\ndegree = 1\ncoefficients_e = [[1.0, 2.0]]\n");
  EXPECT_THAT(refusal({.masters = {l}, .out = folder_ / "p.png", .recipe = folder_ / "sky.toml"}),
              HasSubstr("remove coefficients_e"));
}

// Cancelled at every place where it is looked at, one after the other, until the work is through.
class CancelAfter : public Progress {
 public:
  CancelAfter(CancelToken& token, int calls) : token_(token), left_(calls) {}
  void begin(std::string_view, std::int64_t) override { step(); }
  void advance(std::int64_t) override { step(); }

 private:
  void step() {
    if (--left_ <= 0) token_.cancel();
  }
  CancelToken& token_;
  int left_;
};

TEST_F(Finish, CancelLeavesNothingBehind) {
  const auto master = colour_master();
  int stopped = 0;
  for (int calls = 1; calls < 200; ++calls) {
    CancelToken token;
    CancelAfter progress(token, calls);
    auto reply =
        finish_picture({.masters = {master}, .out = folder_ / "p.png"}, {.cancel = &token, .progress = &progress});
    if (reply.ok()) break;
    ++stopped;
    EXPECT_EQ(reply.error().code(), Code::kCancelled);
    EXPECT_EQ(std::distance(fs::directory_iterator(folder_), {}), 1);
  }
  EXPECT_GT(stopped, 10);
  EXPECT_TRUE(fs::exists(folder_ / "p.png"));
}

}  // namespace
}  // namespace ng::app
