// measure/basins.h - a picture falls into the basins of its peaks, and the highest saddles between them are known.
//
// Every pixel belongs to the peak that steepest ascent from it reaches (of equal pixels the later in reading order is
// the higher). Two basins that touch have a saddle: the highest of the lower pixels of all pairs that touch. Sinking
// the level through those saddles from above is the flooding of the picture (watershed; Vincent & Soille 1991, IEEE
// PAMI 13, 583, from memory), at the cost of one look at every pixel.
#pragma once

#include <cstdint>
#include <vector>

#include "measure/matched_filter.h"

namespace ng::measure {

struct Basin {
  std::size_t peak = 0;  // index into the pixels
  int area_px = 0;
};

struct Saddle {
  std::int32_t a = 0, b = 0;  // basins, a < b
  float height = 0;
};

struct Relief {
  std::vector<Basin> basins;    // in reading order of their peaks
  std::vector<Saddle> saddles;  // highest first; one for each pair of basins that touch
};

[[nodiscard]] Relief find_basins(const BrightPixels& bright);

}  // namespace ng::measure
