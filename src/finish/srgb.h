// finish/srgb.h - linear light to the numbers that a display is given.
//
// The sRGB curve of IEC 61966-2-1:1999: linear below 0.0031308, then 1.055 x^(1/2.4) - 0.055. 0 is black, 1 is white on
// both sides.
#pragma once

#include <cstdint>
#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"

namespace ng::finish {

[[nodiscard]] double srgb_encode(double linear);
[[nodiscard]] double srgb_decode(double encoded);

// The curve as a table of 65537 places with straight lines between them: within 1/50 of a 16-bit step of the formula.
class SrgbTable {
 public:
  SrgbTable();
  // Encoded, 0 to 65535, rounded to the nearest. Values outside 0..1 are clamped; NaN becomes 0.
  [[nodiscard]] std::uint16_t encode16(float linear) const;

 private:
  std::vector<float> table_;
};

// A whole plane. Errors: kCancelled.
[[nodiscard]] Result<void> encode_srgb16(View<const float> linear, View<std::uint16_t> encoded, const Context& ctx);

}  // namespace ng::finish
