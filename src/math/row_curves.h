// math/row_curves.h - smooth curves along the pixels of a row.
//
// A curve is given piece by piece, from left to right; each piece is one polynomial of t = shift + x scale.
#pragma once

#include <array>
#include <span>

namespace ng::math {

struct CurvePiece {
  int end = 0;  // the piece holds the pixels before this one that the pieces before it do not
  float shift = 0;
  std::array<float, 4> cubic{};   // c[0] + t (c[1] + t (c[2] + t c[3]))
  std::array<float, 2> linear{};  // l[0] + t l[1]
};

// out[x] = cubic(t) from pixel `begin` to the end of the last piece.
void fill_cubic(std::span<const CurvePiece> pieces, float scale, int begin, float* out);

// out[x] = (row[x] - cubic(t)) / linear(t) from pixel `begin` to the end of the last piece.
void standardise(std::span<const CurvePiece> pieces, float scale, const float* row, int begin, float* out);

}  // namespace ng::math
