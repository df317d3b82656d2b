// app/night_air.h - what the air let through in each frame of a reduction, and what it takes per airmass.
#pragma once

#include "app/reduce.h"

namespace ng::app {

// From the lights' transmissions and airmasses: fills `transparency` of the frames and `extinction` of the masters. The
// transmissions are of the same stars in every frame, so no catalogue is needed: 2.5 log10 of them is the zero point
// but for a constant. Extinction stays empty where the fit has too little to go by (astrometry/zero_point.h).
void describe_air(ReduceReply& reply);

}  // namespace ng::app
