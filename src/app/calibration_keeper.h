// app/calibration_keeper.h - the calibration masters of a workspace: taken where the same one was kept before, kept
// where it was made anew.
//
// They lie in masters/calibration, or wherever below masters/ they were moved or imported to: their descriptions say
// what they are. Without a workspace nothing is looked for and nothing is written. Writing goes on beside the caller's
// work; settle() waits for it.
#pragma once

#include <filesystem>
#include <future>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "app/calibration_master.h"
#include "app/reduce.h"

namespace ng::app {

class CalibrationKeeper {
 public:
  explicit CalibrationKeeper(std::optional<std::filesystem::path> workspace) : workspace_(std::move(workspace)) {}

  // What goes wrong here costs the work of making a master, not the reduction: it becomes a note.
  [[nodiscard]] std::optional<reduce::Master> take(const std::string& key, std::vector<std::string>& notes);
  // `image` stays where it is until settle().
  void keep(CalibrationMaster master, float single_noise_adu, View<const float> image);
  // Descriptions of what was written.
  [[nodiscard]] std::vector<std::filesystem::path> settle(std::vector<std::string>& notes);

 private:
  std::optional<std::filesystem::path> workspace_;
  std::optional<std::multimap<std::string, std::filesystem::path>>
      by_key_;  // descriptions; empty until it is asked for
  std::vector<std::future<Result<std::filesystem::path>>> writing_;
};

// Whose masters a reduction keeps: of the workspace whose library it takes the target from, or in which it writes.
[[nodiscard]] std::optional<std::filesystem::path> workspace_of(const ReduceRequest& request);

}  // namespace ng::app
