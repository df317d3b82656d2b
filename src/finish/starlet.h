// finish/starlet.h - the starlet: an undecimated wavelet transform with the cubic B-spline ("a trous").
//
// J.-L. Starck & F. Murtagh 2006, Astronomical Image and Data Analysis, 2nd ed., section 2.3 and appendix A. Smoothing
// by (1 4 6 4 1)/16 along rows and columns with gaps of 2^j pixels; scale j holds the difference of two successive
// smoothings. Beyond the border the picture is mirrored around the outermost pixels. The image is the sum of its scales
// and the last smoothing.
#pragma once

#include <array>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"

namespace ng::finish {

inline constexpr int kMaxStarletScales = 7;

// Standard deviation of the coefficients of scale j = 0, 1, ... for white noise of standard deviation 1; follows from
// the kernel (starlet_test.cpp computes it; the book's table, from simulation, has 0.889, 0.200, 0.086, 0.041, 0.020,
// 0.010, 0.005).
inline constexpr std::array<double, kMaxStarletScales> kStarletNoise = {0.890796, 0.200664, 0.085508, 0.041217,
                                                                        0.020425, 0.010190, 0.005092};

// The next smoothing: `out` = `in` smoothed with gaps of 2^scale pixels. `scratch` has the same shape; none overlap.
// Errors: kCancelled.
[[nodiscard]] Result<void> starlet_smooth(View<const float> in, int scale, View<float> out, View<float> scratch,
                                          const Context& ctx);

}  // namespace ng::finish
