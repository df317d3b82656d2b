// app/shelf_sets.h - the calibration frames of the library in sets that are alike.
#pragma once

#include <vector>

#include "app/calibration_rule.h"
#include "app/library_shelf.h"
#include "store/library_index.h"

namespace ng::app {

// Alike by the rule itself: a set is what matches its first frame, in both directions. In the order of their first
// frames.
[[nodiscard]] std::vector<ShelfSet> shelf_sets(const std::vector<store::LibraryFrame>& frames,
                                               const CalibrationTolerance& tolerance);

}  // namespace ng::app
