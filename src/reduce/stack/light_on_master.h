// reduce/stack/light_on_master.h - some rows of one light, on the master's grid, scale and sky, with their variance.
#pragma once

#include <array>
#include <functional>
#include <span>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "math/lanczos.h"
#include "reduce/stack/integrate.h"

namespace ng::reduce {

// Planes of the master, rows of a band of it, some columns of those.
struct LightRows {
  LightRows() = default;
  LightRows(int first_column, int width, int rows, int planes)
      : x0(first_column), values(width, rows, planes), variance(width, rows, planes) {}
  int x0 = 0;             // master column of the first value
  Image<float> values;    // NaN = no measurement
  Image<float> variance;  // of each on bare sky, as it stands after resampling; 0 where there is no measurement
};

// Per plane: variance of one value on the common scale, before the resampling averages, per box of kMasterBoxPx.
using VarianceMeshes = std::array<Image<float>, 3>;
[[nodiscard]] VarianceMeshes variance_on_master(const StackFrame& frame, int width, int height, int planes);

// Is shown the sums of squared kernel weights of each row (of a plane, of the master) before they become variances; 0
// where there is no value.
using SquaresSeen = std::function<void(int plane, int y, std::span<const float> squares)>;

// Rows top ... top + rows - 1 of the master, held in rows `into` ... of an image.
struct MasterRows {
  int top = 0, rows = 0;
  int into = 0;
};

// Reads, calibrates and resamples what some rows of the master need of the light. Errors: those of reading.
[[nodiscard]] Result<void> light_on_master(const StackFrame& frame, const VarianceMeshes& meshes,
                                           const MasterRows& wanted, LightRows& out,
                                           const math::LanczosPolynomials& lanczos, const Context& ctx,
                                           const SquaresSeen& squares_seen = {});

}  // namespace ng::reduce
