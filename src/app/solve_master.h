// app/solve_master.h - where the masters lie on the sky, known before they are written.
//
// All masters of a reduction have one grid. The stars that place it are those measured on the lights, carried there: of
// each panel's best light, so that a mosaic is placed by the stars of its whole field and no master is read again.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/light_frames.h"
#include "app/master_grid.h"
#include "app/reduce.h"
#include "base/context.h"
#include "base/result.h"
#include "frame/wcs.h"

namespace ng::app {

struct MasterPlace {
  std::optional<Wcs> wcs;              // of the masters' pixels, those of a drizzled one at its scale
  std::optional<MasterSolution> told;  // for reply and recipe
  std::vector<std::string> notes;      // why there is none, or what is doubtful
};

// Not solved is an answer, with a note that says why. Errors: kNotFound, kCorrupt (a catalogue that was named),
// kCancelled.
[[nodiscard]] Result<MasterPlace> solve_masters(const std::vector<Light>& lights, const MasterGrid& grid,
                                                const ReduceRequest& request, const Context& ctx);

}  // namespace ng::app
