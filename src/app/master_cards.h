// app/master_cards.h - what the headers of all masters of one group of lights share.
#pragma once

#include <vector>

#include "app/master_file.h"
#include "io/fits_writer.h"

namespace ng::app {

// Object, filter, unit, exposure, number of frames, camera and optics. `pixel_scale`: side of the master's pixels in
// those of the reference frame.
[[nodiscard]] std::vector<io::FitsCard> master_cards(const MasterInput& input, double pixel_scale = 1);

}  // namespace ng::app
