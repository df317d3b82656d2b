#include "app/recorded_path.h"

#include <algorithm>

namespace ng::app {
namespace fs = std::filesystem;

std::optional<fs::path> recorded_path(const fs::path& workspace, const std::string& recorded) {
  std::error_code error;
  const fs::path root = fs::weakly_canonical(workspace, error);
  const fs::path given = fs::weakly_canonical(root / fs::path(recorded), error);
  const fs::path within = given.lexically_relative(root);
  if (!within.empty() && *within.begin() != ".." && fs::is_regular_file(given, error)) return within;
  fs::path tail;
  for (fs::path left = fs::path(recorded).lexically_normal(); left.has_filename(); left = left.parent_path()) {
    const fs::path name = left.filename();
    tail = tail.empty() ? name : name / tail;
    if (name != "frames" && name != "masters") continue;
    const bool leads_out = std::find(tail.begin(), tail.end(), "..") != tail.end();
    if (!leads_out && fs::is_regular_file(root / tail, error)) return tail;
  }
  return std::nullopt;
}

}  // namespace ng::app
