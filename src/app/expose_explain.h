// app/expose_explain.h - each number of the advice with its formula, symbols and values.
#pragma once

#include <vector>

#include "app/expose.h"
#include "rig/rig.h"

namespace ng::app {

[[nodiscard]] std::vector<ExposeStep> explain_exposure(const plan::ExposureAdvice& a, const rig::Rig& rig,
                                                       const ExposeRequest& request, double airmass,
                                                       double sky_mag_arcsec2, bool sky_is_measured);

}  // namespace ng::app
