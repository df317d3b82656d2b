// reduce/stack/prepare.h - some rows of one light, ready for resampling.
#pragma once

#include <cstdint>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "reduce/stack/integrate.h"

namespace ng::reduce {

struct PreparedRows {
  Image<float> pixels;      // electrons, defects bridged; three planes from a mosaic
  Image<std::uint8_t> bad;  // nonzero = value is no measurement
  int y0 = 0;               // first row, in frame pixels
};

// Reads rows y0 ... y0 + count - 1 with what margin the neighbours need, and works on them. `planes` as in
// StackOptions.
[[nodiscard]] Result<PreparedRows> prepare_rows(const StackFrame& frame, int y0, int count, int planes,
                                                const Context& ctx);

}  // namespace ng::reduce
