// Pictures written and read back: PNG, TIFF and JPEG through their own libraries, ICC profiles through lcms2.
#include "io/picture_writer.h"

#include <lcms2.h>
#include <png.h>
#include <tiffio.h>

#include <cmath>
#include <cstdlib>

#include "io/icc_profile.h"
#include "io/jpeg_library.h"
#include "io/test_files.h"

namespace ng::io {
namespace {

using ::testing::Contains;
using testing::Fails;
using testing::get;
using ::testing::HasSubstr;
using testing::IsOk;
using testing::pixels_of;
using testing::put;
using testing::TempFolder;

constexpr int kWidth = 37;
constexpr int kHeight = 29;

struct Colours {
  Image<std::uint16_t> image{kWidth, kHeight, 3};
  std::vector<View<const std::uint16_t>> planes;
  Colours() {
    for (int p = 0; p < 3; ++p) {
      for (int y = 0; y < kHeight; ++y)
        for (int x = 0; x < kWidth; ++x)
          image.plane(p)(x, y) = static_cast<std::uint16_t>(p * 20000 + y * 500 + x * 13);
      planes.push_back(image.plane(p));
    }
  }
};

std::vector<unsigned char> png_profile(const std::string& bytes) {
  png_structp png = png_create_read_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  std::string_view left = bytes;
  png_set_read_fn(png, &left, [](png_structp p, png_bytep data, png_size_t size) {
    auto& rest = *static_cast<std::string_view*>(png_get_io_ptr(p));
    std::memcpy(data, rest.data(), size);
    rest.remove_prefix(size);
  });
  png_read_info(png, info);
  png_charp name = nullptr;
  png_bytep profile = nullptr;
  png_uint_32 size = 0;
  int method = 0;
  std::vector<unsigned char> out;
  if (png_get_iCCP(png, info, &name, &method, &profile, &size) != 0) out.assign(profile, profile + size);
  png_destroy_read_struct(&png, &info, nullptr);
  return out;
}

TEST(PictureWriter, SixteenBitsSurvivePngAndTiff) {
  const TempFolder folder;
  const Colours c;
  for (const char* name : {"a.png", "a.tif", "A.TIFF"}) {
    ASSERT_THAT(write_picture(folder / name, c.planes), IsOk()) << name;
    auto source = open_frame(folder / name);
    ASSERT_THAT(source, IsOk());
    ASSERT_EQ((*source)->facts().planes, 3);
    for (int p = 0; p < 3; ++p) {
      const Image<float> back = pixels_of(folder / name, p);
      for (int y = 0; y < kHeight; ++y)
        for (int x = 0; x < kWidth; ++x) ASSERT_EQ(back.plane()(x, y), c.image.plane(p)(x, y)) << name;
    }
  }
}

TEST(PictureWriter, EightBitsAreRounded) {
  const TempFolder folder;
  Image<std::uint16_t> ramp(256, 2);
  for (int x = 0; x < 256; ++x) {
    ramp.plane()(x, 0) = static_cast<std::uint16_t>(x * 257);                         // exactly x
    ramp.plane()(x, 1) = static_cast<std::uint16_t>(std::min(65535, x * 257 + 129));  // just over half a step
  }
  const std::vector<View<const std::uint16_t>> planes{ramp.plane()};
  PictureOptions options;
  options.bits = 8;
  for (const char* name : {"a.png", "a.tif"}) {
    ASSERT_THAT(write_picture(folder / name, planes, options), IsOk());
    const Image<float> back = pixels_of(folder / name);
    for (int x = 0; x < 256; ++x) {
      EXPECT_EQ(back.plane()(x, 0), x);
      EXPECT_EQ(back.plane()(x, 1), std::min(255, x + 1));
    }
  }
}

// The decoded JPEG differs by its quantization only: at quality 95 a smooth ramp keeps within 3 of 255 in every
// channel, which sub-sampled colour or a lost plane would not.
TEST(PictureWriter, JpegKeepsColoursAtFullResolution) {
  const TempFolder folder;
  const Colours c;
  ASSERT_THAT(write_picture(folder / "a.jpg", c.planes), IsOk());
  const std::string bytes = get(folder / "a.jpg");
  jpeg_decompress_struct jpeg{};
  jpeg_error_mgr errors{};
  jpeg.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&jpeg);
  jpeg_mem_src(&jpeg, reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
  jpeg_save_markers(&jpeg, JPEG_APP0 + 2, 0xFFFF);
  ASSERT_EQ(jpeg_read_header(&jpeg, TRUE), JPEG_HEADER_OK);
  ASSERT_EQ(jpeg.num_components, 3);
  for (int i = 0; i < 3; ++i) {
    EXPECT_EQ(jpeg.comp_info[i].h_samp_factor, 1);
    EXPECT_EQ(jpeg.comp_info[i].v_samp_factor, 1);
  }
  JOCTET* profile = nullptr;
  unsigned size = 0;
  ASSERT_TRUE(jpeg_read_icc_profile(&jpeg, &profile, &size));
  EXPECT_EQ(std::vector<unsigned char>(profile, profile + size), srgb_profile());
  std::free(profile);
  jpeg_start_decompress(&jpeg);
  std::vector<unsigned char> row(3 * kWidth);
  for (int y = 0; y < kHeight; ++y) {
    unsigned char* to = row.data();
    jpeg_read_scanlines(&jpeg, &to, 1);
    for (int i = 0; i < 3 * kWidth; ++i)
      ASSERT_NEAR(row[static_cast<std::size_t>(i)], c.image.plane(i % 3)(i / 3, y) / 257.0, 3) << i << " " << y;
  }
  jpeg_finish_decompress(&jpeg);
  jpeg_destroy_decompress(&jpeg);
}

TEST(PictureWriter, EveryPictureCarriesItsProfile) {
  const TempFolder folder;
  const Colours c;
  const std::span<const View<const std::uint16_t>> all(c.planes);
  ASSERT_THAT(write_picture(folder / "a.png", all), IsOk());
  ASSERT_THAT(write_picture(folder / "g.png", all.first(1)), IsOk());
  EXPECT_EQ(png_profile(get(folder / "a.png")), srgb_profile());
  EXPECT_EQ(png_profile(get(folder / "g.png")), srgb_grey_profile());
  ASSERT_THAT(write_picture(folder / "a.tif", all), IsOk());
  ASSERT_THAT(write_picture(folder / "g.tif", all.first(1)), IsOk());
  for (const char* name : {"a.tif", "g.tif"}) {
    TIFF* tiff = TIFFOpen((folder / name).c_str(), "r");
    std::uint32_t size = 0;
    unsigned char* profile = nullptr;
    ASSERT_EQ(TIFFGetField(tiff, TIFFTAG_ICCPROFILE, &size, &profile), 1);
    EXPECT_EQ(std::vector<unsigned char>(profile, profile + size), *name == 'a' ? srgb_profile() : srgb_grey_profile());
    TIFFClose(tiff);
  }
  ASSERT_THAT(write_picture(folder / "g.jpg", all.first(1)), IsOk());
  EXPECT_NE(get(folder / "g.jpg").find("ICC_PROFILE"), std::string::npos);
}

// IEC 61966-2-1: display values to linear light, in hundredths of a per cent, by the formula of the standard.
double linear(double v) {
  return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
}

TEST(IccProfile, MeansWhatTheStandardSays) {
  const std::vector<unsigned char> grey = srgb_grey_profile();
  const std::vector<unsigned char> colour = srgb_profile();
  cmsHPROFILE g = cmsOpenProfileFromMem(grey.data(), static_cast<cmsUInt32Number>(grey.size()));
  cmsHPROFILE rgb = cmsOpenProfileFromMem(colour.data(), static_cast<cmsUInt32Number>(colour.size()));
  ASSERT_NE(g, nullptr);
  ASSERT_NE(rgb, nullptr);
  EXPECT_EQ(cmsGetColorSpace(g), cmsSigGrayData);
  EXPECT_EQ(cmsGetColorSpace(rgb), cmsSigRgbData);
  cmsHPROFILE xyz = cmsCreateXYZProfile();
  const auto luminance = [&](cmsHPROFILE from, cmsUInt32Number format, const float* in) {
    cmsHTRANSFORM t =
        cmsCreateTransform(from, format, xyz, TYPE_XYZ_DBL, INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOOPTIMIZE);
    cmsCIEXYZ out{};
    cmsDoTransform(t, in, &out, 1);
    cmsDeleteTransform(t);
    return out.Y;
  };
  // 1e-4: lcms2 keeps colorants as 16.16 fixed-point numbers.
  for (const float v : {0.0F, 0.02F, 0.04F, 0.1F, 0.5F, 1.0F}) {
    const float neutral[3] = {v, v, v};
    EXPECT_NEAR(luminance(g, TYPE_GRAY_FLT, neutral), linear(v), 1e-4) << v;
    EXPECT_NEAR(luminance(rgb, TYPE_RGB_FLT, neutral), linear(v), 1e-4) << v;
  }
  // Luminance of the green primary, adapted to D50 (0.7169 by the published Bradford-adapted sRGB matrix).
  const float green[3] = {0, 1, 0};
  EXPECT_NEAR(luminance(rgb, TYPE_RGB_FLT, green), 0.7169, 5e-4);
  cmsCloseProfile(xyz);
  cmsCloseProfile(g);
  cmsCloseProfile(rgb);
}

TEST(PictureWriter, SameInputSameBytes) {
  const TempFolder folder;
  const Colours c;
  for (const char* extension : {".png", ".tif", ".jpg"}) {
    ASSERT_THAT(write_picture(folder / (std::string("a") + extension), c.planes), IsOk());
    ASSERT_THAT(write_picture(folder / (std::string("b") + extension), c.planes), IsOk());
    EXPECT_EQ(get(folder / (std::string("a") + extension)), get(folder / (std::string("b") + extension)));
  }
}

TEST(PictureWriter, RefusesAndLeavesNothing) {
  const TempFolder folder;
  const Colours c;
  const std::span<const View<const std::uint16_t>> all(c.planes);
  EXPECT_THAT(write_picture(folder / "a.bmp", all), Fails(Code::kUnsupported, ".png, .tif or .jpg"));
  EXPECT_THAT(write_picture(folder / "a.png", all.first(2)), Fails(Code::kInvalidInput, "one plane or three"));
  const std::vector<View<const std::uint16_t>> uneven{all[0], all[1], all[2].rows(0, 5)};
  EXPECT_THAT(write_picture(folder / "a.png", uneven), Fails(Code::kInvalidInput, "the same size"));
  PictureOptions options;
  options.bits = 12;
  EXPECT_THAT(write_picture(folder / "a.png", all, options), Fails(Code::kInvalidInput, "8 or 16 bits"));
  options = {};
  options.jpeg_quality = 0;
  EXPECT_THAT(write_picture(folder / "a.jpg", all, options), Fails(Code::kInvalidInput, "1 to 100"));
  const Image<std::uint16_t> wide(70000, 1, 1, 0);
  const std::vector<View<const std::uint16_t>> one{wide.plane()};
  EXPECT_THAT(write_picture(folder / "a.jpg", one), Fails(Code::kUnsupported, "choose PNG or TIFF"));
  EXPECT_THAT(write_picture(folder / "no/a.png", all), Fails(Code::kNotFound, "does not exist"));
  EXPECT_EQ(folder.files(), 0);
  put(folder / "a.png", "mine");
  EXPECT_THAT(write_picture(folder / "a.png", all), Fails(Code::kExists, "exists already"));
  EXPECT_EQ(get(folder / "a.png"), "mine");
}

}  // namespace
}  // namespace ng::io
