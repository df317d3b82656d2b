// app/expose_explain.h - each number of the advice with its formula, symbols and values.
#pragma once

#include <vector>

#include "app/expose.h"
#include "rig/rig.h"

namespace ng::app {

[[nodiscard]] std::vector<ExposeStep> explain_exposure(const plan::ExposureAdvice& a, const rig::Rig& rig,
                                                       const plan::ExposureWish& w, const plan::FaintSource& source,
                                                       const plan::Conditions& conditions);

}  // namespace ng::app
