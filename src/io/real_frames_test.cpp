// Facts of real frames with their real catches. The frames are not shipped: without them these tests are skipped.
#include <cmath>

#include "io/test_support.h"

namespace ng::io {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using testing::IsOk;

class RealFrames : public ::testing::Test {
 protected:
  void SetUp() override {
    if (!std::filesystem::is_directory(folder_)) GTEST_SKIP() << "the folder of real frames is not here";
  }
  [[nodiscard]] FrameFacts facts(const std::string& name) const {
    const auto source = open_frame(folder_ / name);
    if (source.ok()) return (*source)->facts();
    ADD_FAILURE() << source.error().message();
    return {};
  }
  std::filesystem::path folder_ = std::filesystem::path(NG_SOURCE_DIR) / "../shared/frames";
};

TEST_F(RealFrames, EveryOneOpensAndReads) {
  int frames = 0;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(folder_)) {
    const std::string extension = entry.path().extension().string();
    if (!entry.is_regular_file() || extension == ".md" || extension == ".csv" || extension == ".rst") continue;
    auto source = open_frame(entry.path());
    ASSERT_THAT(source, IsOk());
    const auto image = read_plane(**source);
    ASSERT_THAT(image, IsOk());
    int finite = 0;
    for (int y = 0; y < image->height(); ++y)
      for (int x = 0; x < image->width(); ++x) finite += std::isfinite(image->plane()(x, y)) ? 1 : 0;
    EXPECT_GT(finite, 0.999 * image->width() * image->height()) << entry.path();
    ++frames;
  }
  EXPECT_GE(frames, 180);
}

TEST_F(RealFrames, LocalTimesAndWesternLongitude) {
  const FrameFacts f = facts("one_field_all_night/HATP-32171220013343.FITS.gz");
  EXPECT_EQ(f.start->iso(), "2017-12-20T01:33:43.317");
  EXPECT_NEAR(*f.site_longitude_deg, -110.88, 1e-9);
  EXPECT_NEAR(*f.sensor_temperature_c, -2.15, 1e-9);
  EXPECT_EQ(f.exposure_s, 60.0);
  EXPECT_EQ(f.plate_scale_arcsec_px, 5.21);
  EXPECT_EQ(f.kind, FrameKind::kUnknown);
}

TEST_F(RealFrames, DecimalCommaAndPattern) {
  const FrameFacts f = facts("colour_camera_a/bias/Bias_frame0001.fit.gz");
  EXPECT_DOUBLE_EQ(*f.exposure_s, 6.4e-5);
  EXPECT_EQ(f.bayer, BayerPattern::kGrbg);
  EXPECT_EQ(f.kind, FrameKind::kBias);
  EXPECT_EQ(f.gain_setting, 0.0);
  EXPECT_EQ(f.offset_setting, 9.0);
  EXPECT_THAT(f.warnings, Contains(HasSubstr("decimal comma")));
}

TEST_F(RealFrames, CalibratedTilesWithAMask) {
  const std::string name = "solved_with_tables/ogg0m404-kb82-20170815-1156-e91.fits.fz";
  const FrameFacts f = facts(name);
  EXPECT_TRUE(f.calibrated);
  EXPECT_EQ(f.electrons_per_adu, 1.0);
  EXPECT_EQ(f.filter, "gp");
  EXPECT_EQ(f.binning_x, 2);
  EXPECT_EQ(f.pixel_size_um, 18.0);
  EXPECT_FALSE(f.useful_region.has_value());
  const Image<float> image = testing::pixels_of(folder_ / name);
  int undefined = 0;
  for (int y = 0; y < f.height; ++y)
    for (int x = 0; x < f.width; ++x) undefined += std::isnan(image.plane()(x, y)) ? 1 : 0;
  EXPECT_EQ(undefined, 176);  // nonzero pixels of the mask, counted with astropy 5.2.1
}

TEST_F(RealFrames, OverscanAndKelvin) {
  const FrameFacts f = facts("overscan/a8280271.fits");
  EXPECT_EQ(f.useful_region, (Region{16, 0, 512, 520}));
  EXPECT_EQ(f.overscan_region, (Region{3, 0, 10, 520}));
  EXPECT_EQ(f.electrons_per_adu, 1.9);
  EXPECT_EQ(f.read_noise_e, 5.0);
  EXPECT_NEAR(*f.sensor_temperature_c, -92.95, 1e-9);
  EXPECT_EQ(f.start->iso(), "2013-07-13T00:57:33.000");
  EXPECT_EQ(f.kind, FrameKind::kLight);
}

TEST_F(RealFrames, PatternInTheFilterCard) {
  for (const char* name : {"dslr_mosaic/unsolved.fits", "dslr_mosaic/solved.fits.fz"}) {
    const FrameFacts f = facts(name);
    EXPECT_EQ(f.bayer, BayerPattern::kRggb);
    EXPECT_EQ(f.filter, "");
    EXPECT_EQ(f.gain_setting, 100.0);
    EXPECT_NEAR(*f.site_longitude_deg, -155.58, 1e-9);
  }
}

TEST_F(RealFrames, OddCards) {
  const FrameFacts f = facts("odd_cards/centroid_sample.fits");
  EXPECT_EQ(f.electrons_per_adu, 1.53);
  EXPECT_EQ(f.binning_x, 2);
  EXPECT_NEAR(*f.site_longitude_deg, -119.7, 1e-9);
  EXPECT_TRUE(f.dark_subtracted);
  EXPECT_FALSE(f.calibrated);
  EXPECT_TRUE(facts("odd_cards/diff_phot.fit").calibrated);
  EXPECT_THAT(facts("one_raw_with_faults/test.fits").warnings, Contains(HasSubstr("f/80")));
  EXPECT_EQ(facts("too_few_stars/M13_blue_0001.fits.gz").black_level_adu, 500.0);
}

}  // namespace
}  // namespace ng::io
