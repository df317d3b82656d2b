// app/shelf_pixels.h - darks of the library tested by their pixels: do old ones still hold, do they scale.
#pragma once

#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "app/calibration_rule.h"
#include "app/library_shelf.h"
#include "base/context.h"
#include "base/result.h"
#include "store/library_index.h"

namespace ng::app {

struct DriftFinding {
  bool drifted = false;
  int still_good = 0;  // darks of the newest night
  std::string words;   // what was found; empty where one night alone tells nothing
};
// The oldest night against the newest, up to 8 darks of each. Errors: kCorrupt, kIo, kCancelled.
[[nodiscard]] Result<DriftFinding> drift_of(const std::vector<const store::LibraryFrame*>& darks,
                                            const std::filesystem::path& frames, const Context& ctx);

// For a dark that is missing: whether darks of two other exposures and bias, of the same gain and temperature, show
// that its place may be taken by a longer one, scaled. Empty where the library cannot tell. Errors: as above.
[[nodiscard]] Result<std::string> scaling_advice(const std::vector<store::LibraryFrame>& shelf,
                                                 const std::filesystem::path& frames, const ShelfNeed& need,
                                                 const CalibrationTolerance& tolerance, std::pair<int, int> size,
                                                 const Context& ctx);

}  // namespace ng::app
