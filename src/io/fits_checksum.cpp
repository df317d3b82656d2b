#include "io/fits_checksum.h"

#include <algorithm>
#include <array>
#include <cstring>

#include "io/fits_decode.h"

namespace ng::io {

void OnesComplementSum::add(std::span<const std::byte> bytes) {
  while (bytes.size() >= 4) {
    // 2^20 words of at most 2^32 - 1 cannot overflow 64 bits.
    const std::size_t words = std::min<std::size_t>(bytes.size() / 4, std::size_t{1} << 20);
    std::uint64_t sum = 0;
    for (std::size_t i = 0; i < words; ++i) sum += load_big_endian<std::uint32_t>(bytes.data(), i);
    add_words(sum);
    bytes = bytes.subspan(words * 4);
  }
  if (bytes.empty()) return;
  std::array<std::byte, 4> last{};
  std::copy(bytes.begin(), bytes.end(), last.begin());
  add_words(load_big_endian<std::uint32_t>(last.data(), 0));
}

// Appendix J.2: each byte of the sum becomes four characters that add up to it (plus four times '0'), moved in pairs
// away from the punctuation between the digits and the letters; the string is then turned one character to the right.
std::string encode_checksum(std::uint32_t sum, bool complement) {
  constexpr int kZero = '0';
  const auto is_punctuation = [](int c) { return (c >= 0x3A && c <= 0x40) || (c >= 0x5B && c <= 0x60); };
  const std::uint32_t value = complement ? ~sum : sum;
  std::array<char, 16> ascii{};
  for (int byte = 0; byte < 4; ++byte) {
    const int v = static_cast<int>((value >> (24 - 8 * byte)) & 0xFF);
    std::array<int, 4> ch{};
    ch.fill(v / 4 + kZero);
    ch[0] += v % 4;
    for (bool moved = true; moved;) {
      moved = false;
      for (int j = 0; j < 4; j += 2) {
        while (is_punctuation(ch[j]) || is_punctuation(ch[j + 1])) {
          ++ch[j];
          --ch[j + 1];
          moved = true;
        }
      }
    }
    for (int j = 0; j < 4; ++j) ascii[4 * j + byte] = static_cast<char>(ch[j]);
  }
  std::string text(16, ' ');
  for (int i = 0; i < 16; ++i) text[(i + 1) % 16] = ascii[i];
  return text;
}

}  // namespace ng::io
