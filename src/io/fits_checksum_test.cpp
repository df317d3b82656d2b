#include "io/fits_checksum.h"

#include "io/test_support.h"

namespace ng::io {
namespace {

std::uint32_t sum_of(const std::string& bytes) {
  OnesComplementSum sum;
  sum.add(std::as_bytes(std::span(bytes)));
  return sum.value();
}

// Values of FITS 4.0, section 4.4.2.7, reproduced with an independent ones'-complement sum.
TEST(FitsChecksum, SumsOfPlainBlocks) {
  EXPECT_EQ(sum_of(std::string(2880, '\x00')), 0u);
  EXPECT_EQ(sum_of(std::string(2880, '\x01')), 3537031890u);
  EXPECT_EQ(sum_of(std::string(2880, '\xFF')), 4294967295u);
}

TEST(FitsChecksum, OrderOfBlocksDoesNotMatter) {
  std::string a, b;
  for (int i = 0; i < 4000; ++i) (i < 1000 ? a : b) += static_cast<char>(i * 37 % 251);
  OnesComplementSum split;
  split.add(std::as_bytes(std::span(b)));
  split.add(std::as_bytes(std::span(a)));
  EXPECT_EQ(split.value(), sum_of(a + b));
}

TEST(FitsChecksum, EncodingOfZero) {
  EXPECT_EQ(encode_checksum(0, false), "0000000000000000");
  EXPECT_EQ(encode_checksum(0, true), "orrrrooooooooooo");
}

// The property that the encoding exists for: put into a header whose sum was s, the whole sums to all ones.
TEST(FitsChecksum, EncodedCardMakesTheSumAllOnes) {
  for (const std::uint32_t seed : {1u, 77u, 0xDEADBEEFu, 0x80000001u, 0xFFFFFFFEu}) {
    std::string block(2880, ' ');
    for (std::size_t i = 0; i < 80; ++i) block[i] = static_cast<char>(' ' + (seed >> (i % 24)) % 90);
    // A CHECKSUM card: its 16 characters begin in column 12, so one byte before a word.
    block.replace(80, 28, "CHECKSUM= '0000000000000000'");
    block.replace(91, 16, encode_checksum(sum_of(block)));
    EXPECT_EQ(sum_of(block), 0xFFFFFFFFu) << seed;
  }
}

}  // namespace
}  // namespace ng::io
