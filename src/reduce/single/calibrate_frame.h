// reduce/single/calibrate_frame.h - rows of a frame from the file to electrons, without holes.
#pragma once

#include <functional>

#include "base/image.h"
#include "base/result.h"
#include "frame/source.h"
#include "reduce/single/calibrate.h"

namespace ng::reduce {

// Reads the rows y0 ... y0 + rows.height - 1 of one plane, calibrates them (calibrate.h) and bridges the bad pixels
// among them (bridge.h; `step` as there): a few rows at a time, so that they lie in the cache from the first to the
// last of it. `bad`, of the same shape, goes out as calibrate_rows() marks it; empty where nobody asks. `stored` sees
// the rows as they were read. Errors: as FrameSource::read_rows().
[[nodiscard]] Result<void> calibrate_frame_rows(FrameSource& source, int plane, const Calibration& calibration,
                                                int step, int y0, View<float> rows, View<std::uint8_t> bad,
                                                const std::function<void(View<const float>)>& stored = {});

}  // namespace ng::reduce
