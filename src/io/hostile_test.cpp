// Files that lie, and files that are broken: each gets a sentence, none a crash, none silent zeros.
#include <random>

#include "io/fits_writer.h"
#include "io/picture_writer.h"
#include "io/test_files.h"

namespace ng::io {
namespace {

using testing::big_endian;
using testing::data_block;
using testing::Fails;
using testing::header;
using testing::image_header;
using testing::IsOk;
using testing::put;
using testing::TempFolder;

Result<std::unique_ptr<FrameSource>> open_bytes_as(const TempFolder& folder, const std::string& bytes) {
  put(folder / "x.fits", bytes);
  return open_frame(folder / "x.fits");
}

TEST(Hostile, NotAFrame) {
  const TempFolder folder;
  EXPECT_THAT(open_frame(folder / "nothing.fits"), Fails(Code::kNotFound, "no such file"));
  EXPECT_THAT(open_frame(folder.path()), Fails(Code::kIo, "is a folder"));
  EXPECT_THAT(open_bytes_as(folder, ""), Fails(Code::kCorrupt, "empty"));
  EXPECT_THAT(open_bytes_as(folder, "x"), Fails(Code::kUnsupported, "no picture"));
  EXPECT_THAT(open_bytes_as(folder, std::string(10000, 'g')), Fails(Code::kUnsupported, "no picture file"));
  EXPECT_THAT(open_bytes_as(folder, std::string(10000, '\0')), Fails(Code::kUnsupported, "no picture file"));
  EXPECT_THAT(open_bytes_as(folder, "\xFF\xD8\xFF\xE0 some JPEG"), Fails(Code::kUnsupported, "JPEG picture"));
  EXPECT_THAT(open_bytes_as(folder, "\x1F\x8B"), Fails(Code::kCorrupt, "cut off"));
}

TEST(Hostile, HeaderCutOffOrEndless) {
  const TempFolder folder;
  const std::string whole = image_header(16, 4, 4, {});
  EXPECT_THAT(open_bytes_as(folder, whole.substr(0, 400)), Fails(Code::kCorrupt, "no END card"));
  EXPECT_THAT(open_bytes_as(folder, "SIMPLE  ="), Fails(Code::kCorrupt, "no END card"));
  std::string endless;
  while (endless.size() < 17u << 20) endless += whole.substr(0, 80);
  EXPECT_THAT(open_bytes_as(folder, endless), Fails(Code::kCorrupt, "within 16 MB"));
}

TEST(Hostile, DataCutOff) {
  const TempFolder folder;
  const std::string file = image_header(16, 100, 100, {}) + std::string(19999, '\1');
  EXPECT_THAT(open_bytes_as(folder, file), Fails(Code::kCorrupt, "promises 20000 bytes of pixels, 19999 are there"));
  EXPECT_THAT(open_bytes_as(folder, file + '\1'), IsOk());  // only the padding is missing: every pixel is there
}

TEST(Hostile, NoImage) {
  const TempFolder folder;
  EXPECT_THAT(open_bytes_as(folder, header({"SIMPLE  = T", "BITPIX  = 8", "NAXIS   = 0"})),
              Fails(Code::kUnsupported, "no image"));
  EXPECT_THAT(open_bytes_as(folder, image_header(16, 0, 5, {})), Fails(Code::kUnsupported, "no image"));
  EXPECT_THAT(open_bytes_as(folder, header({"SIMPLE  = T", "BITPIX  = 16", "NAXIS   = 1", "NAXIS1  = 10"}) +
                                        data_block(std::string(20, '\0'))),
              Fails(Code::kUnsupported, "no image"));
  EXPECT_THAT(open_bytes_as(folder, image_header(16, 2, 2, {}, 2) + data_block(std::string(16, '\0'))),
              Fails(Code::kUnsupported, "2 planes"));
}

TEST(Hostile, ImpossibleSizes) {
  const TempFolder folder;
  EXPECT_THAT(open_bytes_as(folder, image_header(17, 4, 4, {})), Fails(Code::kCorrupt, "BITPIX = 17"));
  const auto sized = [&](const std::string& w, const std::string& h, const std::vector<std::string>& more = {}) {
    std::vector<std::string> cards{"SIMPLE  = T", "BITPIX  = 16", "NAXIS   = 2", "NAXIS1  = " + w, "NAXIS2  = " + h};
    cards.insert(cards.end(), more.begin(), more.end());
    return open_bytes_as(folder, header(cards) + std::string(2880, '\0'));
  };
  EXPECT_THAT(sized("2000000000", "2000000000"), Fails(Code::kCorrupt, "cannot be"));
  EXPECT_THAT(sized("100000", "100000"), Fails(Code::kCorrupt, "cut off"));
  EXPECT_THAT(sized("9223372036854775807", "3"), Fails(Code::kCorrupt, ""));
  EXPECT_THAT(sized("-5", "3"), Fails(Code::kCorrupt, "negative"));
  EXPECT_THAT(sized("2.5", "3"), Fails(Code::kCorrupt, "missing"));
  EXPECT_THAT(sized("4", "4", {"PCOUNT  = -8"}), Fails(Code::kCorrupt, "negative"));
  EXPECT_THAT(sized("4", "4", {"GCOUNT  = 9223372036854775807"}), Fails(Code::kCorrupt, ""));
  EXPECT_THAT(open_bytes_as(folder, header({"SIMPLE  = T", "BITPIX  = 8", "NAXIS   = 2000000000"})),
              Fails(Code::kCorrupt, "NAXIS"));
}

// A few bytes of gzip, or a small table, that claim to hold a gigantic image.
TEST(Hostile, SmallFilesWithGiantClaims) {
  const TempFolder folder;
  const std::string table = header(
      {"XTENSION= 'BINTABLE'", "BITPIX  = 8", "NAXIS   = 2", "NAXIS1  = 8", "NAXIS2  = 1", "PCOUNT  = 0", "GCOUNT  = 1",
       "TFIELDS = 1", "TTYPE1  = 'COMPRESSED_DATA'", "TFORM1  = '1PB(10)'", "ZIMAGE  = T", "ZCMPTYPE= 'RICE_1'",
       "ZBITPIX = 16", "ZNAXIS  = 2", "ZNAXIS1 = 40000", "ZNAXIS2 = 40000", "ZTILE1  = 40000", "ZTILE2  = 40000"});
  const std::string primary = header({"SIMPLE  = T", "BITPIX  = 8", "NAXIS   = 0", "EXTEND  = T"});
  EXPECT_THAT(open_bytes_as(folder, primary + table + data_block("12345678")),
              Fails(Code::kCorrupt, "cannot be packed"));
}

TEST(Hostile, JunkBehindTheImageIsAllowed) {
  const TempFolder folder;
  const std::string file = image_header(16, 2, 1, {"EXTEND  = T"}) + data_block(big_endian<std::int16_t>({1, 2}));
  for (const std::string& junk : {std::string(2880, '\0'), std::string(100, 'x'), std::string(5000, ' ')})
    EXPECT_THAT(open_bytes_as(folder, file + junk), IsOk());
  EXPECT_THAT(open_bytes_as(folder, file + "XTENSION= 'IMAGE'"), Fails(Code::kCorrupt, "no END card"));
}

// Small files of every kind, with bytes turned at random (always the same ones): any answer is right, as long as it is
// an answer. Run under the sanitizers, this is what finds reads outside of buffers.
class Flipped : public ::testing::TestWithParam<std::string> {};

void make_small_file(const std::filesystem::path& path, const std::string& kind) {
  const int width = 31, height = 23;
  Image<std::uint16_t> image(width, height);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) image.plane()(x, y) = static_cast<std::uint16_t>(1000 + x * y % 57);
  const View<const std::uint16_t> plane = image.plane();
  if (kind == "png" || kind == "tif") {
    const std::vector<View<const std::uint16_t>> planes{plane, plane, plane};
    ASSERT_THAT(write_picture(path, planes), IsOk());
    return;
  }
  std::string bytes;
  if (kind == "fits" || kind == "gz") {
    std::vector<std::uint16_t> values;
    for (int y = 0; y < height; ++y) values.insert(values.end(), plane.row(y), plane.row(y) + width);
    bytes = image_header(16, width, height,
                         {"BZERO   = 32768", "EXTEND  = T", "OBJECT  = 'small'", "DATE-OBS= '2026-01-14T21:03:00'",
                          "BAYERPAT= 'RGGB'", "SITELONG= '+11 30 00'", "EXPTIME = 30.0", "TRIMSEC = '[1:5,1:5]'"}) +
            data_block(big_endian(values));
    bytes += header({"XTENSION= 'IMAGE   '", "BITPIX  = 8", "NAXIS   = 2", "NAXIS1  = 31", "NAXIS2  = 23",
                     "PCOUNT  = 0", "GCOUNT  = 1", "EXTNAME = 'BPM'"}) +
             data_block(std::string(width * height, '\0'));
  }
  if (kind == "gz") bytes = testing::gzipped(bytes);
  if (kind == "dng") bytes = testing::small_dng(width + 1, height + 1);
  if (kind.starts_with("fz")) bytes = testing::tiled_fits(plane, kind.substr(3));
  put(path, bytes);
}

TEST_P(Flipped, AnswersAndNeverCrashes) {
  const TempFolder folder;
  const std::string name = "a." + (GetParam() == "png" || GetParam() == "tif" ? GetParam() : std::string("dat"));
  make_small_file(folder / name, GetParam());
  const std::string good = testing::get(folder / name);
  ASSERT_THAT(open_frame(folder / name), IsOk());
  std::mt19937 random(2026);
  int refused = 0;
  for (int round = 0; round < 400; ++round) {
    std::string bad = good;
    const int flips = 1 + static_cast<int>(random() % 4);
    for (int i = 0; i < flips; ++i) bad[random() % bad.size()] ^= static_cast<char>(1u << (random() % 8));
    if (round % 8 == 7) bad.resize(random() % bad.size());
    put(folder / "b.dat", bad);
    auto source = open_frame(folder / "b.dat");
    if (!source.ok()) {
      EXPECT_FALSE(source.error().message().empty());
      ++refused;
      continue;
    }
    const FrameFacts& facts = (*source)->facts();
    ASSERT_GT(facts.width, 0);
    ASSERT_GT(facts.height, 0);
    if (std::int64_t{facts.width} * facts.height > 10'000'000) continue;  // legal, only large
    for (int plane = 0; plane < facts.planes; ++plane) {
      const auto pixels = read_plane(**source, plane);
      if (!pixels.ok()) ++refused;
    }
  }
  EXPECT_GT(refused, 0);  // the damage was real
}

INSTANTIATE_TEST_SUITE_P(Small, Flipped,
                         ::testing::Values("fits", "gz", "fz_rice", "fz_gzip", "fz_dither", "fz_plio", "png", "tif",
                                           "dng"),
                         [](const auto& p) { return p.param; });

}  // namespace
}  // namespace ng::io
