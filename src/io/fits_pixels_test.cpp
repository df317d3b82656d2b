#include "io/fits_pixels.h"

#include <cmath>
#include <random>

#include "base/parallel.h"
#include "io/fits_slow.h"
#include "io/test_files.h"

namespace ng::io {
namespace {

using testing::big_endian;
using testing::data_block;
using testing::gzipped;
using testing::image_header;
using testing::IsOk;
using testing::pixels_of;
using testing::put;
using testing::slow_plane;
using testing::TempFolder;

bool same(float a, float b) {
  return std::isnan(a) ? std::isnan(b) : a == b;
}

// One image of random bits in every pixel type and scaling, 3 planes of awkward size.
struct Variant {
  std::string name;
  int bitpix;
  std::vector<std::string> cards;
};
class EveryPixelType : public ::testing::TestWithParam<Variant> {
 protected:
  static constexpr int kWidth = 67;
  static constexpr int kHeight = 41;
  static constexpr int kPlanes = 3;
  std::string file() const {
    std::mt19937 random(5);
    std::string data(static_cast<std::size_t>(kWidth * kHeight * kPlanes * std::abs(GetParam().bitpix) / 8), '\0');
    if (GetParam().bitpix == -32) {
      std::vector<float> values;
      for (int i = 0; i < kWidth * kHeight * kPlanes; ++i)
        values.push_back(i % 97 == 0 ? NAN : std::ldexp(static_cast<float>(random() % 100000), -7) - 100);
      data = big_endian(values);
    } else if (GetParam().bitpix == -64) {
      std::vector<double> values;
      for (int i = 0; i < kWidth * kHeight * kPlanes; ++i)
        values.push_back(i % 97 == 0 ? NAN : std::ldexp(static_cast<double>(random()), -9) - 100);
      data = big_endian(values);
    } else {
      for (char& c : data) c = static_cast<char>(random());
    }
    return image_header(GetParam().bitpix, kWidth, kHeight, GetParam().cards, kPlanes) + data_block(data);
  }
};

TEST_P(EveryPixelType, EqualsTheSlowTwinOnAwkwardRows) {
  const TempFolder folder;
  put(folder / "a.fits", file());
  put(folder / "a.fits.gz", gzipped(file()));
  auto plain = open_frame(folder / "a.fits");
  auto packed = open_frame(folder / "a.fits.gz");
  ASSERT_THAT(plain, IsOk());
  ASSERT_THAT(packed, IsOk());
  ASSERT_EQ((*plain)->facts().planes, kPlanes);
  Image<float> out(kWidth, kHeight);
  for (int plane = kPlanes - 1; plane >= 0; --plane) {
    const std::vector<float> slow = slow_plane(folder / "a.fits", 0, kWidth, kHeight, plane);
    ASSERT_FALSE(slow.empty());
    for (const auto& [y0, rows] : {std::pair{0, kHeight}, {0, 1}, {kHeight - 1, 1}, {7, 13}, {40, 0}}) {
      for (FrameSource* source : {plain->get(), packed->get()}) {
        ASSERT_THAT(source->read_rows(plane, y0, out.plane().rows(0, rows)), IsOk());
        for (int y = 0; y < rows; ++y)
          for (int x = 0; x < kWidth; ++x)
            ASSERT_TRUE(same(out.plane()(x, y), slow[static_cast<std::size_t>((y0 + y) * kWidth + x)]))
                << GetParam().name << " plane " << plane << " (" << x << "," << y0 + y << "): " << out.plane()(x, y)
                << " against " << slow[static_cast<std::size_t>((y0 + y) * kWidth + x)];
      }
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Fits, EveryPixelType,
                         ::testing::Values(Variant{"byte", 8, {}},
                                           Variant{"byte_scaled", 8, {"BSCALE  = 0.5", "BZERO   = -3", "BLANK   = 7"}},
                                           Variant{"int16", 16, {}}, Variant{"uint16", 16, {"BZERO   = 32768"}},
                                           Variant{"int16_scaled", 16, {"BSCALE  = 0.1", "BZERO   = 12.5"}},
                                           Variant{"int16_blank", 16, {"BZERO   = 32768", "BLANK   = -32768"}},
                                           Variant{"int32", 32, {}}, Variant{"uint32", 32, {"BZERO   = 2147483648"}},
                                           Variant{"int64", 64, {}}, Variant{"float", -32, {}},
                                           Variant{"float_scaled", -32, {"BSCALE  = 2", "BZERO   = 1"}},
                                           Variant{"double", -64, {}}),
                         [](const auto& p) { return p.param.name; });

// FITS 4.0, table 11: what 16-bit unsigned values look like in the file.
TEST(FitsPixels, Unsigned16BitConvention) {
  const TempFolder folder;
  put(folder / "a.fits", image_header(16, 3, 1, {"BZERO   = 32768", "BSCALE  = 1"}) +
                             data_block(std::string("\x80\x00\x00\x00\x7F\xFF", 6)));
  const Image<float> image = pixels_of(folder / "a.fits");
  ASSERT_EQ(image.width(), 3);
  EXPECT_EQ(image.plane()(0, 0), 0);
  EXPECT_EQ(image.plane()(1, 0), 32768);
  EXPECT_EQ(image.plane()(2, 0), 65535);
}

TEST(FitsPixels, RowsWiderThanTheChunk) {
  const TempFolder folder;
  const int width = 300'000;  // 1.2 MB a row
  std::vector<float> values;
  for (int i = 0; i < 2 * width; ++i) values.push_back(static_cast<float>(i));
  put(folder / "a.fits", image_header(-32, width, 2, {}) + data_block(big_endian(values)));
  const Image<float> image = pixels_of(folder / "a.fits");
  ASSERT_EQ(image.width(), width);
  EXPECT_EQ(image.plane()(0, 1), static_cast<float>(width));
  EXPECT_EQ(image.plane()(width - 1, 1), static_cast<float>(2 * width - 1));
}

TEST(FitsPixels, ImageInTheFirstExtension) {
  const TempFolder folder;
  const std::string primary = testing::header(
      {"SIMPLE  =                    T", "BITPIX  = 8", "NAXIS   = 0", "EXTEND  = T", "FILTER  = 'Ha'"});
  std::string extension = testing::header({"XTENSION= 'IMAGE   '", "BITPIX  = 16", "NAXIS   = 2", "NAXIS1  = 2",
                                           "NAXIS2  = 1", "PCOUNT  = 0", "GCOUNT  = 1"});
  put(folder / "a.fits", primary + extension + data_block(big_endian<std::int16_t>({5, -6})));
  auto source = open_frame(folder / "a.fits");
  ASSERT_THAT(source, IsOk());
  EXPECT_EQ((*source)->facts().filter, "Ha");  // from the primary header
  const Image<float> image = pixels_of(folder / "a.fits");
  EXPECT_EQ(image.plane()(0, 0), 5);
  EXPECT_EQ(image.plane()(1, 0), -6);
}

TEST(FitsPixels, BadPixelMaskBecomesNan) {
  const TempFolder folder;
  const auto extension = [](const std::string& name, int width) {
    return testing::header({"XTENSION= 'IMAGE   '", "BITPIX  = 8", "NAXIS   = 2", "NAXIS1  = " + std::to_string(width),
                            "NAXIS2  = 2", "PCOUNT  = 0", "GCOUNT  = 1", "EXTNAME = '" + name + "'"});
  };
  const std::string image =
      image_header(16, 2, 2, {"EXTEND  = T"}) + data_block(big_endian<std::int16_t>({1, 2, 3, 4}));
  const std::string other = extension("OTHER", 2) + data_block(std::string("\1\1\1\1", 4));
  put(folder / "masked.fits", image + other + extension("bpm", 2) + data_block(std::string("\0\1\0\2", 4)));
  put(folder / "other_size.fits", image + extension("BPM", 3) + data_block(std::string("\1\1\1\1\1\1", 6)));
  put(folder / "masked.fits.gz", gzipped(testing::get(folder / "masked.fits")));
  for (const char* name : {"masked.fits", "masked.fits.gz"}) {
    const Image<float> masked = pixels_of(folder / name);
    EXPECT_EQ(masked.plane()(0, 0), 1);
    EXPECT_TRUE(std::isnan(masked.plane()(1, 0)));
    EXPECT_EQ(masked.plane()(0, 1), 3);
    EXPECT_TRUE(std::isnan(masked.plane()(1, 1)));
  }
  EXPECT_EQ(pixels_of(folder / "other_size.fits").plane()(1, 1), 4);  // not a mask of this image
}

// More than the usual limit of 1024 descriptors, two thirds of them read by several threads at once.
TEST(FitsPixels, ThousandsMayBeOpenAtOnce) {
  const TempFolder folder;
  const Image<std::uint16_t> image(16, 9, 1, 4000);
  put(folder / "0.fits", image_header(16, 2, 1, {}) + data_block(big_endian<std::int16_t>({7, 8})));
  put(folder / "1.fits.gz", gzipped(testing::get(folder / "0.fits")));
  put(folder / "2.fits.fz", testing::tiled_fits(image.plane(), "rice"));
  const std::array<std::string, 3> names{"0.fits", "1.fits.gz", "2.fits.fz"};
  const std::array<float, 3> first{7, 7, 4000};
  std::vector<std::unique_ptr<FrameSource>> open;
  for (int i = 0; i < 2000; ++i) {
    auto source = open_frame(folder / names[static_cast<std::size_t>(i % 3)]);
    ASSERT_THAT(source, IsOk());
    open.push_back(std::move(*source));
  }
  ThreadPool pool(4);
  Context ctx;
  ctx.pool = &pool;
  const auto read = parallel_for(ctx, static_cast<int>(open.size()), [&](int i) -> Result<void> {
    NG_TRY(const auto pixels, read_plane(*open[static_cast<std::size_t>(i)]));
    if (pixels.plane()(0, 0) == first[static_cast<std::size_t>(i % 3)]) return {};
    return Error(Code::kCorrupt, "another value");
  });
  EXPECT_THAT(read, IsOk());
}

TEST(FitsPixels, FileChangedMeanwhile) {
  const TempFolder folder;
  const std::string bytes = image_header(16, 2, 1, {}) + data_block(big_endian<std::int16_t>({7, 8}));
  put(folder / "a.fits", bytes);
  auto source = open_frame(folder / "a.fits");
  ASSERT_THAT(source, IsOk());
  put(folder / "a.fits", bytes + std::string(2880, ' '));
  EXPECT_THAT(read_plane(**source), testing::Fails(Code::kIo, "was changed"));
  std::filesystem::remove(folder / "a.fits");
  EXPECT_THAT(read_plane(**source), testing::Fails(Code::kNotFound, "no such file"));
}

TEST(FitsPixels, NameIsJustAName) {
  const TempFolder folder;
  const std::string bytes = image_header(16, 1, 1, {}) + data_block(big_endian<std::int16_t>({9}));
  for (const char* name : {"a[0:1].fits", "a+1.fits", "a b|wc.fits", "!a.fits", "a.fits[1][bin x]", "-"}) {
    put(folder / name, bytes);
    EXPECT_EQ(pixels_of(folder / name).plane()(0, 0), 9) << name;
  }
}

}  // namespace
}  // namespace ng::io
