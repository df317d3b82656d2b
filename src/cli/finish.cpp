#include "cli/session.h"

namespace ng::cli {

void add_finish(CLI::App& /*root*/, Session& /*session*/) {}

}  // namespace ng::cli
