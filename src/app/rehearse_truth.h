// app/rehearse_truth.h - what is true of a rehearsed night, as one JSON document for outside checks.
#pragma once

#include <vector>

#include "app/message.h"
#include "app/rehearse_files.h"
#include "simulate/night.h"

namespace ng::app {

// Keys, units and conventions are told in the document itself, under "about".
[[nodiscard]] Json truth_of(const simulate::Night& night, const std::vector<RehearsedFrame>& frames);

}  // namespace ng::app
