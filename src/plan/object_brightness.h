// plan/object_brightness.h - how bright an object's surface is, as far as the catalogue tells.
#pragma once

#include "catalog/object_file.h"

namespace ng::plan {

struct ObjectBrightness {
  double mag_arcsec2 = 22;  // V, the mean over its ellipse, above the air
  bool assumed = false;     // of its kind: the catalogue does not tell
};

// Magnitudes of galaxies, globular clusters, planetary nebulae and open clusters are those of their own light. Those of
// other nebulae may be a star's; they count where the mean that follows lies between 20.5 and 24.5, as that of nebulae
// which are photographed does. Else a usual one of the kind, fainter for what nobody gave a name to and for what stands
// in later lists only. Common practice, no source.
[[nodiscard]] ObjectBrightness object_brightness(const catalog::SkyObject& object);

// How much the list in which an object stands promises, 0 to 1: the old ones hold what could be seen first. Common
// practice, no source.
[[nodiscard]] double list_promise(const catalog::SkyObject& object);

}  // namespace ng::plan
