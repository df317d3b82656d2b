// Tile-compressed images: packed by cfitsio here, read through our checks; values against what went in, and against
// cfitsio's own reading of the same file.
#include <cmath>
#include <random>

#include "io/fits_layout.h"
#include "io/fits_slow.h"
#include "io/fits_tile_table.h"
#include "io/test_support.h"

namespace ng::io {
namespace {

using testing::Fails;
using testing::IsOk;
using testing::pixels_of;
using testing::put;
using testing::slow_plane;
using testing::TempFolder;

constexpr int kWidth = 128;
constexpr int kHeight = 100;

struct Packing {
  std::string name;
  int code;
  int bitpix;      // USHORT_IMG, FLOAT_IMG, ...
  float quantize;  // 0: lossless
  bool dither = false;
  long tile_rows = 1;
};

std::vector<float> sky() {
  std::mt19937 random(11);
  std::normal_distribution<float> noise(1000, 20);
  std::vector<float> values(kWidth * kHeight);
  for (float& v : values) v = std::round(noise(random));
  return values;
}

void pack(const std::filesystem::path& path, const Packing& p, std::vector<float> values, bool checksum) {
  fitsfile* file = nullptr;
  int status = 0;
  std::array<long, 2> axes{kWidth, kHeight};
  std::array<long, 2> tile{kWidth, p.tile_rows};
  std::array<long, 2> first{1, 1};
  fits_create_diskfile(&file, path.c_str(), &status);
  fits_set_compression_type(file, p.code, &status);
  fits_set_tile_dim(file, 2, tile.data(), &status);
  fits_set_quantize_level(file, p.quantize, &status);
  if (p.dither) fits_set_quantize_dither(file, SUBTRACTIVE_DITHER_1, &status);
  fits_create_img(file, p.bitpix, 2, axes.data(), &status);
  // cfitsio packs integers from integers of the same size only.
  std::vector<std::uint16_t> half(values.begin(), values.end());
  std::vector<int> full(values.begin(), values.end());
  const auto n = static_cast<long long>(values.size());
  if (p.bitpix == FLOAT_IMG) {
    fits_write_pix(file, TFLOAT, first.data(), n, values.data(), &status);
  } else if (p.bitpix == LONG_IMG) {
    fits_write_pix(file, TINT, first.data(), n, full.data(), &status);
  } else {
    fits_write_pix(file, p.bitpix == USHORT_IMG ? TUSHORT : TSHORT, first.data(), n, half.data(), &status);
  }
  if (checksum) fits_write_chksum(file, &status);
  fits_close_file(file, &status);
  ASSERT_EQ(status, 0) << p.name;
}

class EveryPacking : public ::testing::TestWithParam<Packing> {};

TEST_P(EveryPacking, ReadsWhatWentIn) {
  const TempFolder folder;
  const std::vector<float> values = sky();
  pack(folder / "a[1].fits.fz", GetParam(), values, true);
  auto source = open_frame(folder / "a[1].fits.fz");
  ASSERT_THAT(source, IsOk());
  ASSERT_EQ((*source)->facts().width, kWidth);
  ASSERT_EQ((*source)->facts().height, kHeight);
  const std::vector<float> slow = slow_plane(folder / "a[1].fits.fz", 1, kWidth, kHeight, 0);
  ASSERT_FALSE(slow.empty());
  // Lossless unless quantized: then within half a step of noise/quantize, the noise being measured by cfitsio (20 ADU
  // here; 1.5 allows for its robust estimate).
  const double allowed = GetParam().quantize > 0 ? 1.5 * 0.5 * 20 / GetParam().quantize : 0;
  Image<float> out(kWidth + 5, kHeight);  // a view with a stride of its own
  const View<float> window = out.plane().crop({3, 0, kWidth, kHeight});
  for (const auto& [y0, rows] : {std::pair{0, kHeight}, {99, 1}, {13, 29}, {0, 64}}) {
    ASSERT_THAT((*source)->read_rows(0, y0, window.rows(0, rows)), IsOk());
    for (int y = 0; y < rows; ++y) {
      for (int x = 0; x < kWidth; ++x) {
        const auto at = static_cast<std::size_t>((y0 + y) * kWidth + x);
        ASSERT_EQ(window(x, y), slow[at]) << x << "," << y0 + y;
        ASSERT_NEAR(window(x, y), values[at], allowed) << x << "," << y0 + y;
      }
    }
  }
}

INSTANTIATE_TEST_SUITE_P(
    Fits, EveryPacking,
    ::testing::Values(Packing{"rice_uint16", RICE_1, USHORT_IMG, 0}, Packing{"rice_int32", RICE_1, LONG_IMG, 0},
                      Packing{"rice_blocks", RICE_1, USHORT_IMG, 0, false, 16},
                      Packing{"gzip1_int16", GZIP_1, SHORT_IMG, 0}, Packing{"gzip2_int16", GZIP_2, SHORT_IMG, 0},
                      Packing{"gzip_float", GZIP_1, FLOAT_IMG, 0}, Packing{"gzip2_float", GZIP_2, FLOAT_IMG, 0},
                      Packing{"plio_int16", PLIO_1, SHORT_IMG, 0}, Packing{"rice_float", RICE_1, FLOAT_IMG, 16},
                      Packing{"rice_dither", RICE_1, FLOAT_IMG, 16, true}),
    [](const auto& p) { return p.param.name; });

// FITS 4.0, section 10: the layout of a Rice-compressed 16-bit image in row tiles, as our scanner sees it.
TEST(FitsTiles, RiceHeaderIsUnderstood) {
  const TempFolder folder;
  pack(folder / "a.fz", {"rice", RICE_1, USHORT_IMG, 0}, sky(), false);
  auto bytes = open_bytes(folder / "a.fz");
  ASSERT_THAT(bytes, IsOk());
  const auto layout = read_fits_layout(**bytes);
  ASSERT_THAT(layout, IsOk());
  EXPECT_EQ(layout->image.kind, HduKind::kTiledImage);
  EXPECT_EQ(layout->image.bitpix, 16);
  const FitsCards& cards = layout->image.cards;
  EXPECT_EQ(cards.text("ZCMPTYPE"), "RICE_1");
  EXPECT_EQ(cards.integer("ZTILE1"), kWidth);
  EXPECT_EQ(cards.integer("ZTILE2"), 1);
  EXPECT_EQ(cards.text("ZNAME1"), "BLOCKSIZE");
  EXPECT_EQ(cards.integer("ZVAL1"), 32);
  EXPECT_EQ(cards.text("ZNAME2"), "BYTEPIX");
  EXPECT_EQ(cards.integer("ZVAL2"), 2);
  EXPECT_EQ(cards.integer("BZERO"), 32768);
}

TEST(FitsTiles, FlippedByteInsideATileIsFoundByTheDatasum) {
  const TempFolder folder;
  pack(folder / "a.fz", {"rice", RICE_1, USHORT_IMG, 0}, sky(), true);
  std::string bytes = testing::get(folder / "a.fz");
  bytes[bytes.size() - 2880 - 100] ^= 0x10;
  put(folder / "b.fz", bytes);
  auto source = open_frame(folder / "b.fz");
  ASSERT_THAT(source, IsOk());
  EXPECT_THAT(read_plane(**source), Fails(Code::kCorrupt, "damaged"));
}

TEST(FitsTiles, DescriptorOutsideTheFile) {
  const TempFolder folder;
  pack(folder / "a.fz", {"rice", RICE_1, USHORT_IMG, 0}, sky(), false);
  auto whole = open_bytes(folder / "a.fz");
  ASSERT_THAT(whole, IsOk());
  const auto layout = read_fits_layout(**whole);
  ASSERT_THAT(layout, IsOk());
  const std::string good = testing::get(folder / "a.fz");
  for (const auto& [at, value] : {std::pair{0, '\x7F'}, {4, '\x7F'}, {8 * 50 + 5, '\x7F'}}) {
    std::string bad = good;
    bad[layout->image.data_offset + at] = value;
    put(folder / "b.fz", bad);
    auto source = open_frame(folder / "b.fz");
    ASSERT_THAT(source, IsOk());
    EXPECT_THAT(read_plane(**source), Fails(Code::kCorrupt, "lies outside the file")) << at;
  }
}

TEST(FitsTiles, CutOff) {
  const TempFolder folder;
  pack(folder / "a.fz", {"rice", RICE_1, USHORT_IMG, 0}, sky(), false);
  put(folder / "b.fz", testing::get(folder / "a.fz").substr(0, 9000));
  EXPECT_THAT(open_frame(folder / "b.fz"), Fails(Code::kCorrupt, "cut off"));
}

TEST(FitsTiles, UnreadCompressionIsNamed) {
  const TempFolder folder;
  pack(folder / "a.fz", {"hcompress", HCOMPRESS_1, SHORT_IMG, 0, false, 16}, sky(), false);
  auto source = open_frame(folder / "a.fz");
  ASSERT_THAT(source, IsOk());
  EXPECT_THAT(read_plane(**source), Fails(Code::kUnsupported, "HCOMPRESS_1"));
}

}  // namespace
}  // namespace ng::io
