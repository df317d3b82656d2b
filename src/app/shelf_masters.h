// app/shelf_masters.h - the calibration masters that reductions kept: their age, and whether they still hold.
#pragma once

#include <vector>

#include "app/calibration_wish.h"
#include "app/library_shelf.h"
#include "store/library_index.h"

namespace ng::app {

// "not valid": a frame of it is no longer in the library, another one fits that is not in it, or the algorithm has
// changed: the next reduction makes it anew. "old": by calibration.toml. `frames`: the calibration frames of the
// library.
[[nodiscard]] std::vector<ShelfMaster> shelf_masters(const std::vector<store::CalibrationMasterRecord>& masters,
                                                     const std::vector<store::LibraryFrame>& frames,
                                                     const CalibrationWish& wish, Instant now);

// Masters that hold darks of nights before `last_night`, after which such darks have drifted; `like`: what they are
// for.
void mark_drifted(std::vector<ShelfMaster>& listed, const std::vector<store::CalibrationMasterRecord>& masters,
                  const std::vector<store::LibraryFrame>& frames, const CalibrationFacts& like,
                  const CalibrationTolerance& tolerance, const std::string& last_night);

}  // namespace ng::app
