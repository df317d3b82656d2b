// frame/background_map.h - sky level and noise over a frame, as a mesh of boxes and a smooth surface through it.
//
// Evaluation: bicubic convolution through the box centres (Keys 1981, IEEE Trans. ASSP 29, 1153, a = -1/2), continued
// linearly beyond the outermost centres. Noise and variances are interpolated bilinearly: they must stay positive.
#pragma once

#include <vector>

#include "base/image.h"

namespace ng {

// The surface through any mesh of boxes: at a place, and along a row of `width` pixels.
[[nodiscard]] float mesh_at(const Image<float>& mesh, int box_px, double x, double y);
void mesh_row(const Image<float>& mesh, int box_px, int y, int width, float* out);
// The same of the pixels begin ... end - 1 of the row alone, from out[0] on.
void mesh_row(const Image<float>& mesh, int box_px, int y, int begin, int end, float* out);

// What must stay positive, a variance say: straight between the boxes' centres, held beyond the outermost.
[[nodiscard]] float mesh_between(const Image<float>& mesh, int box_px, double x, double y);
void mesh_row_between(const Image<float>& mesh, int box_px, int y, int begin, int end, float* out);

struct BackgroundMap {
  int width = 0;  // of the frame, pixels
  int height = 0;
  int box_px = 64;     // box k covers pixels k * box_px ... (k + 1) * box_px - 1; the last one may be cut
  Image<float> level;  // one value per box
  Image<float> noise;  // standard deviation of one pixel

  [[nodiscard]] float median_level() const;
  [[nodiscard]] float median_noise() const;
  // Level at a place, pixels, 0-based.
  [[nodiscard]] float level_at(double x, double y) const;
  // out[x] = (row[x] - level) / noise for begin <= x < end of row y; what is no number stays none.
  void standardise_row(int y, const float* row, int begin, int end, float* out) const;
};

}  // namespace ng
