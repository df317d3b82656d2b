#include "app/folder_walk.h"

#include <algorithm>
#include <deque>
#include <set>
#include <system_error>

namespace ng::app {
namespace {

namespace fs = std::filesystem;

bool holds(const fs::path& directory, const fs::path& other) {
  return std::mismatch(directory.begin(), directory.end(), other.begin(), other.end()).first == directory.end();
}

class Walk {
 public:
  Walk(const fs::path& folder, const fs::path& skip) {
    std::error_code none;
    top_ = fs::canonical(folder, none);
    if (!skip.empty()) skip_ = fs::weakly_canonical(skip, none);
  }

  std::vector<fs::path> run(const fs::path& folder) {
    enter(folder);
    while (!links_.empty()) {
      const fs::path link = links_.front();
      links_.pop_front();
      std::error_code error;
      const fs::path target = fs::canonical(link, error);
      const fs::path stands_in = fs::canonical(link.parent_path(), error);
      if (!error && !holds(target, stands_in) && !holds(target, top_)) enter(link);
    }
    std::sort(files_.begin(), files_.end());
    return std::move(files_);
  }

 private:
  // A directory and all real ones below; links are kept for later.
  void enter(const fs::path& directory) {
    std::error_code error;
    const fs::path real = fs::canonical(directory, error);
    if (error || (!skip_.empty() && holds(skip_, real)) || !entered_.insert(real).second) return;
    std::vector<fs::path> below;
    for (fs::directory_iterator it(directory, fs::directory_options::skip_permission_denied, error), end;
         !error && it != end; it.increment(error)) {
      std::error_code ignored;
      if (it->is_regular_file(ignored)) files_.push_back(it->path());
      if (it->is_directory(ignored)) below.push_back(it->path());
    }
    std::sort(below.begin(), below.end());
    for (const fs::path& path : below) {
      if (fs::is_symlink(path, error)) {
        links_.push_back(path);
      } else {
        enter(path);
      }
    }
  }

  fs::path top_, skip_;
  std::set<fs::path> entered_;  // by their real paths
  std::deque<fs::path> links_;
  std::vector<fs::path> files_;
};

}  // namespace

std::vector<fs::path> files_of_night(const fs::path& folder, const fs::path& skip) {
  return Walk(folder, skip).run(folder);
}

}  // namespace ng::app
