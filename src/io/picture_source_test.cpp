// TIFF and PNG files of others as frames: every layout that is read, made by libtiff here.
#include "io/picture_source.h"

#include <tiffio.h>

#include <algorithm>

#include "io/picture_writer.h"
#include "io/test_files.h"

namespace ng::io {
namespace {

using ::testing::Contains;
using testing::Fails;
using testing::get;
using ::testing::HasSubstr;
using testing::IsOk;
using testing::put;
using testing::TempFolder;

constexpr int kWidth = 37;
constexpr int kHeight = 29;

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
  const Image<std::uint16_t> grey(kWidth, kHeight, 1, 700);
  const std::vector<View<const std::uint16_t>> planes{grey.plane()};
  for (const char* name : {"dark_1.png", "dark_1.tif"}) {
    ASSERT_THAT(write_picture(folder / name, planes), IsOk());
    const auto source = open_frame(folder / name);
    ASSERT_THAT(source, IsOk());
    EXPECT_EQ((*source)->facts().kind, FrameKind::kDark);
    EXPECT_THAT((*source)->facts().warnings, Contains(HasSubstr("linear")));
  }
}

TEST(PictureSource, CutOffIsCorrupt) {
  const TempFolder folder;
  Image<std::uint16_t> noise(kWidth, kHeight);  // incompressible, so that half a file is half the picture
  std::uint32_t state = 1;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x)
      noise.plane()(x, y) = static_cast<std::uint16_t>((state = state * 1664525u + 1013904223u) >> 16);
  const std::vector<View<const std::uint16_t>> planes{noise.plane()};
  for (const char* name : {"a.png", "a.tif"}) {
    ASSERT_THAT(write_picture(folder / name, planes), IsOk());
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

TEST(PictureSource, PaletteAndMosaicAreRefused) {
  const TempFolder folder;
  const auto write = [&](std::uint16_t photometric, std::uint16_t bits) {
    TIFF* tiff = TIFFOpen((folder / "a.tif").c_str(), "w");
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, 8);
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, 1);
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, bits);
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, 1);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, photometric);
    std::array<std::uint16_t, 256> map{};
    if (photometric == PHOTOMETRIC_PALETTE) TIFFSetField(tiff, TIFFTAG_COLORMAP, map.data(), map.data(), map.data());
    std::array<std::byte, 8> row{};
    TIFFWriteScanline(tiff, row.data(), 0, 0);
    TIFFClose(tiff);
    return open_frame(folder / "a.tif");
  };
  EXPECT_THAT(write(PHOTOMETRIC_PALETTE, 8), Fails(Code::kUnsupported, "neither grey nor RGB"));
  EXPECT_THAT(write(PHOTOMETRIC_MINISBLACK, 1), Fails(Code::kUnsupported, "1 bits"));
}

}  // namespace
}  // namespace ng::io
