// app/write_master.h - a master and all that lies beside it: its recipe, the sheet of its frames, what was measured of
// them.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "app/light_frames.h"
#include "app/master_file.h"
#include "app/reduce.h"
#include "base/context.h"
#include "base/result.h"
#include "io/overwrite.h"

namespace ng::app {

// `meant`: all lights that were meant for the master, those left out among them, in the order of their files. The files
// beside appear after the master, never without it. Errors: kExists, kIo; kCorrupt (a frame that changed), kTooFew.
[[nodiscard]] Result<ReduceMaster> write_master(const MasterInput& input, std::span<const Light* const> meant,
                                                const ReduceRequest& request, io::Overwrite overwrite,
                                                std::vector<std::string>& notes, const Context& ctx);

}  // namespace ng::app
