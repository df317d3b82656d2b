// app/master_grid.h - the grid that all masters of a reduction share.
#pragma once

#include <cstddef>

namespace ng::app {

struct MasterGrid {
  std::size_t reference = 0;  // the light whose pixels the grid continues
  int width = 0, height = 0;
  int panels = 1;
  int placed_by_sky = 0;  // lights that share too few stars with the others: their maps come from the catalogues
  double distortion = 0;  // share by which the lens draws the corners outwards; the grid is then flat. 0: none was seen
  double feather_px = 0;  // width of the border over which neighbouring panels hand over to each other
  double residual_px = 0, expected_px = 0;  // of the stars that panels share (reduce/stack/align_panels.h)
};

}  // namespace ng::app
