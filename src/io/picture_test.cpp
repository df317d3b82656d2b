// Pictures written and read back: PNG, TIFF and JPEG through their own libraries, ICC profiles through lcms2.
#include <lcms2.h>
#include <png.h>
#include <tiffio.h>

#include <cmath>
#include <cstdlib>

#include "io/icc_profile.h"
#include "io/jpeg_library.h"
#include "io/picture_source.h"
#include "io/picture_writer.h"
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

// TIFF in all the layouts that are read: strips and tiles, samples together and apart, integers and floats.
struct TiffForm {
  std::string name;
  std::uint16_t bits, format, samples, planar;
  bool tiled;
  std::uint16_t compression;
};
class EveryTiff : public ::testing::TestWithParam<TiffForm> {};

float tiff_value(const TiffForm& f, int sample, int x, int y) {
  const int v = sample * 50 + y * 3 + x;
  return f.format == SAMPLEFORMAT_IEEEFP ? static_cast<float>(v) / 8 - 3
                                         : static_cast<float>(f.bits == 8 ? v % 256 : v * 7);
}

void store(std::vector<std::byte>& to, std::size_t index, const TiffForm& f, float value) {
  const auto as = [&](auto v) { std::memcpy(to.data() + index * sizeof(v), &v, sizeof(v)); };
  if (f.format == SAMPLEFORMAT_IEEEFP) {
    if (f.bits == 32) as(value);
    if (f.bits == 64) as(static_cast<double>(value));
  } else {
    if (f.bits == 8) as(static_cast<std::uint8_t>(value));
    if (f.bits == 16) as(static_cast<std::uint16_t>(value));
    if (f.bits == 32) as(static_cast<std::uint32_t>(value));
  }
}

TEST_P(EveryTiff, IsRead) {
  const TiffForm& f = GetParam();
  const TempFolder folder;
  const int side = 16;
  TIFF* tiff = TIFFOpen((folder / "a.tif").c_str(), "w");
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, kWidth);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, kHeight);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, f.bits);
  TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, f.format);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, f.samples);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, f.planar);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, f.compression);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, f.samples >= 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK);
  if (f.samples == 4) {
    const std::array<std::uint16_t, 1> alpha{EXTRASAMPLE_UNASSALPHA};
    TIFFSetField(tiff, TIFFTAG_EXTRASAMPLES, 1, alpha.data());
  }
  if (f.tiled) {
    TIFFSetField(tiff, TIFFTAG_TILEWIDTH, side);
    TIFFSetField(tiff, TIFFTAG_TILELENGTH, side);
  } else {
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, 7);
  }
  const bool apart = f.planar == PLANARCONFIG_SEPARATE;
  const int rows = f.tiled ? side : 7;
  const int columns = f.tiled ? side : kWidth;
  const int together = apart ? 1 : f.samples;
  for (int s = 0; s < (apart ? f.samples : 1); ++s) {
    for (int y0 = 0; y0 < kHeight; y0 += rows) {
      for (int x0 = 0; x0 < kWidth; x0 += columns) {
        std::vector<std::byte> block(static_cast<std::size_t>(rows * columns * together * f.bits / 8));
        for (int y = 0; y < rows; ++y)
          for (int x = 0; x < columns; ++x)
            for (int k = 0; k < together; ++k)
              store(block, static_cast<std::size_t>((y * columns + x) * together + k), f,
                    tiff_value(f, apart ? s : k, x0 + x, y0 + y));
        const auto size = static_cast<tmsize_t>(block.size());
        const auto sample = static_cast<std::uint16_t>(s);
        if (f.tiled) {
          TIFFWriteEncodedTile(
              tiff, TIFFComputeTile(tiff, static_cast<std::uint32_t>(x0), static_cast<std::uint32_t>(y0), 0, sample),
              block.data(), size);
        } else {
          const tmsize_t used = size / rows * std::min(rows, kHeight - y0);
          TIFFWriteEncodedStrip(tiff, TIFFComputeStrip(tiff, static_cast<std::uint32_t>(y0), sample), block.data(),
                                used);
        }
      }
    }
  }
  TIFFClose(tiff);
  auto source = open_frame(folder / "a.tif");
  ASSERT_THAT(source, IsOk());
  const int planes = f.samples >= 3 ? 3 : 1;
  ASSERT_EQ((*source)->facts().planes, planes);
  Image<float> out(kWidth, kHeight);
  for (int p = planes - 1; p >= 0; --p) {
    for (const auto& [y0, n] : {std::pair{0, kHeight}, {20, 9}, {5, 4}}) {
      ASSERT_THAT((*source)->read_rows(p, y0, out.plane().rows(0, n)), IsOk());
      for (int y = 0; y < n; ++y)
        for (int x = 0; x < kWidth; ++x)
          ASSERT_EQ(out.plane()(x, y), tiff_value(f, p, x, y0 + y)) << p << " " << x << " " << y;
    }
  }
}

INSTANTIATE_TEST_SUITE_P(
    Tiff, EveryTiff,
    ::testing::Values(
        TiffForm{"byte", 8, SAMPLEFORMAT_UINT, 1, PLANARCONFIG_CONTIG, false, COMPRESSION_NONE},
        TiffForm{"uint16_lzw", 16, SAMPLEFORMAT_UINT, 1, PLANARCONFIG_CONTIG, false, COMPRESSION_LZW},
        TiffForm{"uint32", 32, SAMPLEFORMAT_UINT, 1, PLANARCONFIG_CONTIG, false, COMPRESSION_NONE},
        TiffForm{"float", 32, SAMPLEFORMAT_IEEEFP, 1, PLANARCONFIG_CONTIG, false, COMPRESSION_ADOBE_DEFLATE},
        TiffForm{"double", 64, SAMPLEFORMAT_IEEEFP, 1, PLANARCONFIG_CONTIG, false, COMPRESSION_NONE},
        TiffForm{"rgb", 16, SAMPLEFORMAT_UINT, 3, PLANARCONFIG_CONTIG, false, COMPRESSION_NONE},
        TiffForm{"rgb_apart", 16, SAMPLEFORMAT_UINT, 3, PLANARCONFIG_SEPARATE, false, COMPRESSION_NONE},
        TiffForm{"rgb_float_tiles", 32, SAMPLEFORMAT_IEEEFP, 3, PLANARCONFIG_CONTIG, true, COMPRESSION_ADOBE_DEFLATE},
        TiffForm{"rgb_tiles_apart", 16, SAMPLEFORMAT_UINT, 3, PLANARCONFIG_SEPARATE, true, COMPRESSION_NONE},
        TiffForm{"grey_tiles", 16, SAMPLEFORMAT_UINT, 1, PLANARCONFIG_CONTIG, true, COMPRESSION_NONE},
        TiffForm{"rgba", 16, SAMPLEFORMAT_UINT, 4, PLANARCONFIG_CONTIG, false, COMPRESSION_NONE}),
    [](const auto& p) { return p.param.name; });

TEST(PictureSource, SaysThatValuesMayNotBeLinear) {
  const TempFolder folder;
  const Colours c;
  for (const char* name : {"dark_1.png", "dark_1.tif"}) {
    ASSERT_THAT(write_picture(folder / name, c.planes), IsOk());
    const auto source = open_frame(folder / name);
    ASSERT_THAT(source, IsOk());
    EXPECT_EQ((*source)->facts().kind, FrameKind::kDark);
    EXPECT_THAT((*source)->facts().warnings, Contains(HasSubstr("linear")));
  }
}

TEST(PictureSource, CutOffIsCorrupt) {
  const TempFolder folder;
  Colours c;
  std::uint32_t noise = 1;  // incompressible, so that half a file is half the picture
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x)
      c.image.plane(0)(x, y) = static_cast<std::uint16_t>((noise = noise * 1664525u + 1013904223u) >> 16);
  for (const char* name : {"a.png", "a.tif"}) {
    ASSERT_THAT(write_picture(folder / name, c.planes), IsOk());
    const std::string whole = get(folder / name);
    put(folder / "cut", whole.substr(0, whole.size() / 2));
    auto source = open_frame(folder / "cut");
    if (!source.ok()) {
      EXPECT_EQ(source.error().code(), Code::kCorrupt);
    } else {
      EXPECT_THAT(read_plane(**source), Fails(Code::kCorrupt, "cut off"));
    }
  }
}

}  // namespace
}  // namespace ng::io
