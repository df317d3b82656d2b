// app/reduce_tolerances.h - how far calibration frames may be from their lights, in a library.
#pragma once

#include "app/reduce.h"
#include "base/result.h"

namespace ng::app {

// With the tolerances of the workspace's calibration.toml where the request names a target and has the usual ones.
// Errors: those of the workspace and the file.
[[nodiscard]] Result<ReduceRequest> with_wished_tolerances(ReduceRequest request);

}  // namespace ng::app
