// app/register_pairs.h - lights registered on one light, each by itself.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "app/light_maps.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

// Maps of the lights `which` onto `reference`, or reasons why not. Both vectors go by all lights; errors: kCancelled.
[[nodiscard]] Result<void> register_on(const LightMaps& state, std::size_t reference,
                                       const std::vector<std::size_t>& which, std::vector<LightMap>& maps,
                                       std::vector<std::string>& reasons, const Context& ctx);

// On the best light. That one may be the odd one out (another object): then the next is tried, of three at most.
[[nodiscard]] Result<void> register_on_best(LightMaps& state, const Context& ctx);

}  // namespace ng::app
