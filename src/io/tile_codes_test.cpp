#include "io/tile_codes.h"

#include <cmath>

#include "io/test_files.h"
#include "io/tile_dither.h"

namespace ng::io {
namespace {

using testing::Fails;
using testing::gzipped;
using testing::IsOk;

std::vector<std::byte> bytes(std::initializer_list<int> values) {
  std::vector<std::byte> out;
  for (const int v : values) out.push_back(static_cast<std::byte>(v));
  return out;
}

// Made by hand from the rules of FITS 4.0, section 10.4.1: the first value as it is (16 bits: 100), then per block the
// number of low bits plus one (4 bits). Differences 0, +1, -1, +2 fold to 0, 2, 1, 4; with split 0 each is that many
// zeros and a one: 1, 001, 01, 00001.
TEST(RiceCode, BlockByHand) {
  // 0000000001100100 0001 1 001 01 00001 -> 00 64, 0001 1001, 0100 001x
  std::array<std::int32_t, 4> pixels{};
  ASSERT_THAT(unpack_rice(bytes({0x00, 0x64, 0x19, 0x42}), 2, 32, pixels), IsOk());
  EXPECT_THAT(pixels, ::testing::ElementsAre(100, 101, 100, 102));
}

TEST(RiceCode, ConstantAndRawBlocks) {
  std::array<std::int32_t, 3> pixels{};
  ASSERT_THAT(unpack_rice(bytes({0xFF, 0xFE, 0x00}), 2, 32, pixels), IsOk());  // split code 0: no differences
  EXPECT_THAT(pixels, ::testing::ElementsAre(-2, -2, -2));
  // Split code 15 (14 + 1): 16-bit folded differences as they are: 3 -> -2, 65535 -> -32768.
  std::array<std::int32_t, 2> raw{};
  ASSERT_THAT(unpack_rice(bytes({0x00, 0x0A, 0xF0, 0x00, 0x3F, 0xFF, 0xF0}), 2, 32, raw), IsOk());
  EXPECT_THAT(raw, ::testing::ElementsAre(8, 8 - 32768));
}

TEST(RiceCode, TooShortOrDamaged) {
  std::array<std::int32_t, 64> pixels{};
  EXPECT_THAT(unpack_rice({}, 2, 32, pixels), Fails(Code::kCorrupt, "too early"));
  EXPECT_THAT(unpack_rice(bytes({0x00, 0x64, 0x19, 0x42}), 2, 32, pixels), Fails(Code::kCorrupt, "too early"));
  EXPECT_THAT(unpack_rice(std::vector<std::byte>(1000), 4, 32, pixels), IsOk());  // a constant, with bytes to spare
  EXPECT_THAT(unpack_rice(bytes({0, 0, 0, 0, 0xF8, 0, 0}), 4, 32, pixels), Fails(Code::kCorrupt, "damaged"));
  // Zeros without end where a one must come.
  std::vector<std::byte> zeros(500);
  zeros[2] = std::byte{0x10};
  EXPECT_THAT(unpack_rice(zeros, 2, 32, pixels), Fails(Code::kCorrupt, "too early"));
}

TEST(PlioCode, Damaged) {
  std::array<std::int32_t, 8> pixels{};
  EXPECT_THAT(unpack_plio({}, pixels), Fails(Code::kCorrupt, "damaged"));
  EXPECT_THAT(unpack_plio(bytes({0, 0, 0, 7, 0x80, 0, 0x7F, 0xFF, 0x7F, 0xFF}), pixels),
              Fails(Code::kCorrupt, "damaged"));
  // Header of seven words, one instruction: a run of 100 ones, longer than the line.
  ASSERT_THAT(unpack_plio(bytes({0, 0, 0, 7, 0xFF, 0x9C, 0, 8, 0, 0, 0, 0, 0, 0, 0x40, 100}), pixels), IsOk());
  EXPECT_THAT(pixels, ::testing::Each(1));
}

TEST(GzipTile, LimitAndShuffle) {
  const std::string code = gzipped("abcdef");
  const auto whole = unpack_gzip(std::as_bytes(std::span(code)), 6);
  ASSERT_THAT(whole, IsOk());
  EXPECT_EQ(unshuffle(*whole, 2), bytes({'a', 'd', 'b', 'e', 'c', 'f'}));
  EXPECT_THAT(unpack_gzip(std::as_bytes(std::span(code)), 5), Fails(Code::kCorrupt, "damaged"));
  EXPECT_THAT(unpack_gzip(std::as_bytes(std::span(code).first(code.size() - 9)), 6), Fails(Code::kCorrupt, "damaged"));
}

// FITS 4.0, appendix I: after 10 000 steps the seed must be 1043618065.
TEST(Dither, TableEndsWhereTheStandardSays) {
  ASSERT_EQ(dither_table().size(), 10000u);
  EXPECT_EQ(dither_table()[0], static_cast<float>(16807.0 / 2147483647.0));
  EXPECT_EQ(dither_table()[9999], static_cast<float>(1043618065.0 / 2147483647.0));
}

TEST(Dither, UndefinedAndExactZero) {
  const std::array<std::int32_t, 3> integers{5, -2147483647, -2147483646};
  std::array<float, 3> out{};
  Quantization q;
  q.scale = 2;
  q.zero = 100;
  q.blank = -2147483647;
  dequantize(integers, q, 0, out.data());
  EXPECT_EQ(out[0], 110);
  EXPECT_TRUE(std::isnan(out[1]));
  q.dither = Dither::kSubtractiveKeepingZero;
  dequantize(integers, q, 12345, out.data());
  EXPECT_NEAR(out[0], 110, 1.0 + 1e-5);  // half a step of 2 either way
  EXPECT_TRUE(std::isnan(out[1]));
  EXPECT_EQ(out[2], 0);
}

}  // namespace
}  // namespace ng::io
