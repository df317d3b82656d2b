#include "app/calibration_keeper.h"

#include "app/library_folder.h"
#include "app/library_layout.h"
#include "app/workspace.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

fs::path fits_of(const fs::path& description) {
  const std::string text = description.string();
  return text.substr(0, text.size() - kCalibrationEnding.size()) + ".fits";
}

}  // namespace

std::optional<fs::path> workspace_of(const ReduceRequest& request) {
  std::error_code ignored;
  const auto found = request.target.empty()
                         ? find_workspace(std::nullopt, fs::weakly_canonical(request.out, ignored).parent_path())
                         : find_workspace(request.workspace, fs::current_path(ignored));
  return found.ok() ? std::optional(*found) : std::nullopt;
}

std::optional<reduce::Master> CalibrationKeeper::take(const std::string& key, std::vector<std::string>& notes) {
  if (!workspace_) return std::nullopt;
  if (!by_key_) {
    by_key_.emplace();
    for (const fs::path& file : files_below(*workspace_ / "masters")) {
      if (!file.string().ends_with(kCalibrationEnding)) continue;
      if (const auto master = read_calibration_master(file); master.ok()) by_key_->emplace(master->key, file);
    }
  }
  const auto [begin, end] = by_key_->equal_range(key);
  for (auto it = begin; it != end; ++it) {
    const auto master = read_calibration_master(it->second);
    if (!master.ok()) continue;
    auto pixels = read_calibration_pixels(fits_of(it->second), *master);
    if (pixels.ok()) return std::move(pixels).value();
    notes.push_back(readable(pixels.error().message()) + ": made anew, and kept beside it");
  }
  return std::nullopt;
}

void CalibrationKeeper::keep(CalibrationMaster master, float single_noise_adu, View<const float> image) {
  if (!workspace_) return;
  master.single_noise_adu = single_noise_adu;
  writing_.push_back(std::async(std::launch::async,
                                [master = std::move(master), image,
                                 folder = *workspace_ / "masters" / "calibration"]() mutable -> Result<fs::path> {
                                  master.pixels_xxh3_128 = hash_pixels(image);
                                  std::error_code error;
                                  fs::create_directories(folder, error);
                                  if (error)
                                    return io::system_error("cannot make the folder " + io::quoted(folder),
                                                            error.value());
                                  return write_calibration_master(folder, master, image);
                                }));
}

std::vector<fs::path> CalibrationKeeper::settle(std::vector<std::string>& notes) {
  std::vector<fs::path> written;
  for (auto& one : writing_) {
    auto path = one.get();
    if (path.ok())
      written.push_back(std::move(path).value());
    else
      notes.push_back("a calibration master is not kept, the next reduction makes it again: " +
                      readable(path.error().message()));
  }
  writing_.clear();
  return written;
}

}  // namespace ng::app
