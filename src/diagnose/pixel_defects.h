// diagnose/pixel_defects.h - pixels that do not measure: hot, cold, hopping between levels.
#pragma once

#include <cstdint>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "diagnose/frame_stack.h"

namespace ng::diagnose {

// Bits of a defect map.
enum DefectBit : std::uint8_t { kHot = 1, kCold = 2, kUnsteady = 4 };

struct DefectLimits {
  double hot_times = 10;        // dark current over that of the usual pixel ...
  double hot_sigma = 6;         // ... and above the noise of the mean of the darks
  double cold_response = 0.75;  // sensitivity relative to the pixels around
  double unsteady_sigma = 5.5;  // of the scatter of a pixel from frame to frame, as a normal deviate: 2e-8 by chance
};

// Marks in `map` the pixels of the darks above both limits, in both halves of the frames. `usual_adu`: dark signal of
// the usual pixel in the exposure; `noise_adu`: temporal noise of one dark.
[[nodiscard]] Result<std::int64_t> mark_hot(const FrameStack& darks, View<const float> bias, double usual_adu,
                                            double noise_adu, const DefectLimits& limits, View<std::uint8_t> map,
                                            const Context& ctx);
// Flats: pixels whose signal is below the limit, measured against the median of the 8 nearest of the same colour.
[[nodiscard]] Result<std::int64_t> mark_cold(const FrameStack& flats, View<const float> bias, bool mosaic,
                                             const DefectLimits& limits, View<std::uint8_t> map, const Context& ctx);
// Bias frames, four at least: pixels whose variance is beyond chance (chi-square by Wilson & Hilferty 1931, PNAS 17,
// 684), as random telegraph noise makes it. `variance_adu2`: of the usual pixel. Fewer frames mark nothing.
[[nodiscard]] Result<std::int64_t> mark_unsteady(const FrameStack& bias, double variance_adu2,
                                                 const DefectLimits& limits, View<std::uint8_t> map,
                                                 const Context& ctx);
inline constexpr int kFewestForUnsteady = 4;

}  // namespace ng::diagnose
