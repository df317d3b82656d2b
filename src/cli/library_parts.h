// cli/library_parts.h - the parts of `library` that have a file of their own.
#pragma once

#include "cli/session.h"

namespace ng::cli {

void add_library_calibration(CLI::App& parent, Session& session);

}  // namespace ng::cli
