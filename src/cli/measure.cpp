#include "cli/session.h"

namespace ng::cli {

void add_measure(CLI::App& /*root*/, Session& /*session*/) {}

}  // namespace ng::cli
