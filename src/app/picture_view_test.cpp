#include "app/picture_view.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <numeric>
#include <string>

#include "io/fits_writer.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

class PictureView : public testing::Test {
 protected:
  PictureView() { fs::create_directories(folder_); }
  ~PictureView() override { fs::remove_all(folder_); }

  // 300 x 300 pixels: evenly 0, 1, 2 ... 299 along each row.
  fs::path ramp() {
    fs::path path = folder_ / "ramp.fits";
    Image<float> image(300, 300);
    for (int y = 0; y < 300; ++y)
      for (int x = 0; x < 300; ++x) image.plane()(x, y) = static_cast<float>(x);
    auto writer = io::FitsWriter::create(path, io::Overwrite::kRefuse);
    io::FitsImageSpec spec;
    spec.width = spec.height = 300;
    const auto hdu = writer->add_image(spec);
    EXPECT_TRUE(writer->write_rows(*hdu, 0, 0, image.plane()).ok());
    EXPECT_TRUE(writer->commit().ok());
    return path;
  }

  fs::path folder_ = fs::temp_directory_path() / ("ng-picture-view-" + std::to_string(::getpid()));
};

TEST_F(PictureView, FactsAreThoseOfTheValues) {
  const auto picture = Picture::open(ramp(), PictureLayer::kValue, Context{});
  ASSERT_TRUE(picture.ok()) << picture.error().message();
  const PictureFacts& f = (*picture)->facts();
  EXPECT_NEAR(f.sky[0], 149.5, 0.6);
  EXPECT_NEAR(f.noise[0], 1.4826 * 75, 1);  // half of an even spread lies within a quarter of its width
  EXPECT_NEAR(f.low[0], 3, 1);              // one in a hundred of 300 columns
  EXPECT_NEAR(f.high[0], 296, 1);
  // As much lies below the sky as above it.
  const auto& counts = f.histogram[0];
  const auto at_sky = static_cast<std::ptrdiff_t>(-f.histogram_from / (f.histogram_to - f.histogram_from) *
                                                  static_cast<double>(counts.size()));
  const int below = std::accumulate(counts.begin(), counts.begin() + at_sky, 0);
  const int all = std::accumulate(counts.begin(), counts.end(), 0);
  EXPECT_NEAR(below, all / 2.0, 0.02 * all);  // a bin or two of the sky's own
}

}  // namespace
}  // namespace ng::app
