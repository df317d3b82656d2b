// app/light_place.h - where single lights lie on the sky, for those whose stars fit no other light's.
#pragma once

#include <functional>
#include <memory>
#include <optional>

#include "app/light_frames.h"
#include "app/reduce.h"
#include "base/context.h"
#include "frame/wcs.h"

namespace ng::app {

// Nothing where a light is not solved.
using LightPlaces = std::function<std::optional<Wcs>(const Light&)>;

// By the catalogues of the request, which are opened when the first light is asked for; each light is solved once.
// Knows no light where the request wants no places or there is no catalogue. Not for several threads at once.
[[nodiscard]] LightPlaces light_places(const ReduceRequest& request, const Context& ctx);

}  // namespace ng::app
