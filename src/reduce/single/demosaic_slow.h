// reduce/single/demosaic_slow.h - the plain twin of demosaic.h: colour by colour and pixel by pixel, in double,
// straight from the paper (Menon, Andriani & Calvagno 2007) with the departures that demosaic.h tells. For tests; no
// NaN.
#pragma once

#include <array>
#include <cmath>
#include <cstdlib>
#include <vector>

#include "base/image.h"
#include "frame/bayer.h"
#include "reduce/single/demosaic.h"

namespace ng::reduce::slow {

class Demosaic {
 public:
  Demosaic(View<const float> mosaic, BayerPattern pattern, const ColourBalance& balance = {})
      : mosaic_(mosaic), pattern_(pattern), factors_{balance.red, 1, balance.blue} {
    w_ = mosaic.width + 2 * kPad;
    h_ = mosaic.height + 2 * kPad;
    for (auto* grid : {&red_, &green_, &blue_, &new_green_}) grid->assign(static_cast<std::size_t>(w_) * h_, 0.0);
    rows_.assign(static_cast<std::size_t>(w_) * h_, 0.0);
    run();
  }
  [[nodiscard]] double value(int plane, int x, int y) const {
    return (plane == 0 ? red_ : plane == 1 ? green_ : blue_)[at(x, y)] / factors_[static_cast<std::size_t>(plane)];
  }

 private:
  static constexpr int kPad = 12;
  using Grid = std::vector<double>;

  [[nodiscard]] std::size_t at(int x, int y) const {
    return static_cast<std::size_t>(y + kPad) * static_cast<std::size_t>(w_) + static_cast<std::size_t>(x + kPad);
  }
  [[nodiscard]] static int fold(int i, int n) {
    while (i < 0 || i >= n) i = i < 0 ? -i : 2 * (n - 1) - i;
    return i;
  }
  [[nodiscard]] double m(int x, int y) const {
    return mosaic_(fold(x, mosaic_.width), fold(y, mosaic_.height)) * factors_[static_cast<std::size_t>(colour(x, y))];
  }
  [[nodiscard]] int colour(int x, int y) const { return bayer_plane(pattern_, x + 2 * kPad, y + 2 * kPad); }
  [[nodiscard]] Grid& grid(int plane) { return plane == 0 ? red_ : plane == 1 ? green_ : blue_; }

  // Colour difference at a red or blue pixel, with green interpolated in one direction.
  [[nodiscard]] double difference(int x, int y, int dx, int dy) const {
    const double green = (m(x - dx, y - dy) + m(x + dx, y + dy)) / 2 +
                         (2 * m(x, y) - m(x - 2 * dx, y - 2 * dy) - m(x + 2 * dx, y + 2 * dy)) / 6;
    return m(x, y) - green;
  }
  [[nodiscard]] double activity(int x, int y, int dx, int dy) const {
    double sum = 0;
    const auto change = [&](int px, int py) {
      return std::fabs(difference(px, py, dx, dy) - difference(px + 2 * dx, py + 2 * dy, dx, dy));
    };
    for (int line = -2; line <= 2; line += 2) {
      const int px = x + line * dy;
      const int py = y + line * dx;
      sum += (line == 0 ? 3 : 1) * (change(px, py) + change(px - 2 * dx, py - 2 * dy));
    }
    for (int line = -1; line <= 1; line += 2) sum += change(x - dx + line * dy, y - dy + line * dx);
    return sum;
  }

  [[nodiscard]] double mix(int x, int y, double in_row, double in_column) const {
    return rows_[at(x, y)] * in_row + (1 - rows_[at(x, y)]) * in_column;
  }

  template <typename Body>
  void for_all(int border, const Body& body) {
    for (int y = -border; y < mosaic_.height + border; ++y)
      for (int x = -border; x < mosaic_.width + border; ++x) body(x, y);
  }

  void fill_at_green(int plane, int border) {
    for_all(border, [&](int x, int y) {
      if (colour(x, y) != 1) return;
      const bool in_row = colour(x + 1, y) == plane;
      const int dx = in_row ? 1 : 0;
      const int dy = in_row ? 0 : 1;
      grid(plane)[at(x, y)] =
          green_[at(x, y)] +
          ((m(x - dx, y - dy) - green_[at(x - dx, y - dy)]) + (m(x + dx, y + dy) - green_[at(x + dx, y + dy)])) / 2;
    });
  }

  void run() {
    for_all(8, [&](int x, int y) {
      const int c = colour(x, y);
      green_[at(x, y)] = m(x, y);
      if (c == 1) return;
      grid(c)[at(x, y)] = m(x, y);
      const double in_row = activity(x, y, 1, 0);
      const double in_column = activity(x, y, 0, 1);
      rows_[at(x, y)] = in_column > 24 * in_row ? 1 : in_row > 24 * in_column ? 0 : 0.5;
      green_[at(x, y)] = m(x, y) - mix(x, y, difference(x, y, 1, 0), difference(x, y, 0, 1));
    });
    fill_at_green(0, 7);
    fill_at_green(2, 7);
    fill_at_far(6, false);
    new_green_ = green_;
    for_all(6, [&](int x, int y) {
      const int c = colour(x, y);
      if (c == 1) return;
      double sum = 0;
      for (int k = -1; k <= 1; ++k)
        sum += mix(x, y, grid(c)[at(x + k, y)] - green_[at(x + k, y)], grid(c)[at(x, y + k)] - green_[at(x, y + k)]);
      new_green_[at(x, y)] = m(x, y) - sum / 3;
    });
    green_ = new_green_;
    fill_at_green(0, 5);
    fill_at_green(2, 5);
    fill_at_far(4, true);
  }

  // Red at blue pixels and blue at red ones.
  void fill_at_far(int border, bool refining) {
    for_all(border, [&](int x, int y) {
      const int c = colour(x, y);
      if (c == 1) return;
      Grid& far = grid(2 - c);
      const Grid& near = grid(c);
      double sum = 0;
      for (int k = -1; k <= 1; ++k) {
        if (k == 0 && !refining) continue;
        sum += mix(x, y, far[at(x + k, y)] - near[at(x + k, y)], far[at(x, y + k)] - near[at(x, y + k)]);
      }
      far[at(x, y)] = m(x, y) + sum / (refining ? 3 : 2);
    });
  }

  View<const float> mosaic_;
  BayerPattern pattern_;
  std::array<double, 3> factors_;
  int w_ = 0;
  int h_ = 0;
  Grid red_, green_, blue_, new_green_;
  Grid rows_;
};

}  // namespace ng::reduce::slow
