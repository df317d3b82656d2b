#include "cli/session.h"

namespace ng::cli {

void add_rehearse(CLI::App& /*root*/, Session& /*session*/) {}

}  // namespace ng::cli
