#include "finish/srgb.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "base/parallel.h"

namespace ng::finish {
namespace {

constexpr int kSteps = 65536;

}  // namespace

double srgb_encode(double linear) {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1 / 2.4) - 0.055;
}

double srgb_decode(double encoded) {
  return encoded <= 0.04045 ? encoded / 12.92 : std::pow((encoded + 0.055) / 1.055, 2.4);
}

SrgbTable::SrgbTable() : table_(kSteps + 2) {
  for (int i = 0; i <= kSteps + 1; ++i)
    table_[static_cast<std::size_t>(i)] = static_cast<float>(65535 * srgb_encode(std::min(1.0, i / double{kSteps})));
}

std::uint16_t SrgbTable::encode16(float linear) const {
  if (!(linear > 0)) return 0;
  const float place = std::min(linear, 1.0f) * kSteps;
  const auto i = static_cast<std::size_t>(place);
  const float t = place - static_cast<float>(i);
  return static_cast<std::uint16_t>(table_[i] + t * (table_[i + 1] - table_[i]) + 0.5f);
}

Result<void> encode_srgb16(View<const float> linear, View<std::uint16_t> encoded, const Context& ctx) {
  assert(linear.width == encoded.width && linear.height == encoded.height);
  const SrgbTable table;
  return parallel_for(ctx, linear.height, [&](int y) {
    const float* in = linear.row(y);
    std::uint16_t* out = encoded.row(y);
    for (int x = 0; x < linear.width; ++x) out[x] = table.encode16(in[x]);
  });
}

}  // namespace ng::finish
