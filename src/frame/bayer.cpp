#include "frame/bayer.h"

#include <array>
#include <cctype>

namespace ng {
namespace {
constexpr std::array kAll = {BayerPattern::kRggb, BayerPattern::kBggr, BayerPattern::kGrbg, BayerPattern::kGbrg};
constexpr std::array<std::string_view, 4> kNames = {"RGGB", "BGGR", "GRBG", "GBRG"};
}  // namespace

BayerPattern bayer_shifted(BayerPattern pattern, int dx, int dy) {
  for (const BayerPattern candidate : kAll) {
    bool same = true;
    for (int i = 0; i < 4; ++i)
      same = same && bayer_plane(candidate, i & 1, i >> 1) == bayer_plane(pattern, (i & 1) + dx, (i >> 1) + dy);
    if (same) return candidate;
  }
  return pattern;  // not reached: every shift of a pattern is a pattern
}

BayerPattern bayer_flipped(BayerPattern pattern, int height) {
  return bayer_shifted(pattern, 0, height - 1);
}

std::optional<BayerPattern> parse_bayer(std::string_view text) {
  for (std::size_t i = 0; i < kNames.size(); ++i) {
    bool same = text.size() == kNames[i].size();
    for (std::size_t k = 0; same && k < text.size(); ++k)
      same = std::toupper(static_cast<unsigned char>(text[k])) == kNames[i][k];
    if (same) return kAll[i];
  }
  return std::nullopt;
}

std::string_view to_string(BayerPattern pattern) {
  return kNames[static_cast<std::size_t>(pattern)];
}

}  // namespace ng
