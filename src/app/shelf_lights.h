// app/shelf_lights.h - the lights of tonight, for which the shelf is looked through.
#pragma once

#include <string>
#include <vector>

#include "app/library_shelf.h"
#include "app/shelf_cost.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

// Lights of one filter and sub-exposure.
struct ShelfLight {
  std::string filter;
  double seconds = 0;
  SubNoise noise;  // with the sensor that rig.toml states
};

// Each filter with the sub-exposures of the request, else with the one that `expose` advises at this gain and this
// temperature of the sensor. Errors: those of `expose`.
[[nodiscard]] Result<std::vector<ShelfLight>> tonight_lights(const ShelfRequest& request, double gain_setting,
                                                             double celsius, const Context& ctx);

}  // namespace ng::app
