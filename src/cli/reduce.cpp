#include "cli/session.h"

namespace ng::cli {

void add_reduce(CLI::App& /*root*/, Session& /*session*/) {}

}  // namespace ng::cli
