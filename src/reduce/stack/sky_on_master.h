// reduce/stack/sky_on_master.h - the bare background of the master, box by box, from those of the frames that set it.
#pragma once

#include <span>

#include "base/image.h"
#include "reduce/stack/normalise.h"

namespace ng::reduce {

struct SkyPart {
  SkyOnMaster frame;
  SkySurface minus;  // what is subtracted from it on the master
};

// Mean of the parts that show a place; where none does, that of the part whose border is nearest. For mesh_row() of
// frame/background_map.h with kMasterBoxPx.
[[nodiscard]] Image<float> sky_on_master(std::span<const SkyPart> parts, int master_width, int master_height);

}  // namespace ng::reduce
