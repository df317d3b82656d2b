// math/weighted_rows.h - out[x] = sum over k of weights[k] rows[k][x]: one direction of a separable filter.
//
// Along y the rows are neighbours of a picture; along x they are one padded row at successive starts.
#pragma once

#include <span>

namespace ng::math {

// `width` values; rows may be unaligned, `out` must not overlap them.
void sum_weighted_rows(std::span<const float* const> rows, std::span<const float> weights, int width, float* out);

}  // namespace ng::math
