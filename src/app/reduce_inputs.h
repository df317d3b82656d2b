// app/reduce_inputs.h - the frames that a reduction begins with, and what is known of them already.
#pragma once

#include <vector>

#include "app/input_frames.h"
#include "app/measure_store.h"
#include "app/reduce.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

struct ReduceInputs {
  std::vector<InputFrame> frames;
  MeasureStore measures;  // of the target in the library, and of the masters that frames are added to
};

// Of a folder or of a target in the library; with `add`, those too of the masters that are there. Errors: kNotFound,
// kCorrupt (recipes), kInvalidInput (an earlier frame is not what it was).
[[nodiscard]] Result<ReduceInputs> reduce_inputs(const ReduceRequest& request, const Context& ctx);

}  // namespace ng::app
