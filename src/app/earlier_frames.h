// app/earlier_frames.h - the frames that masters of a folder were made of, from the recipes beside them.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"

namespace ng::app {

struct EarlierFrame {
  std::filesystem::path path;
  std::string hash;    // that it had
  std::string master;  // that holds it, for messages
};

// Lights and calibration frames, each once, where they lie now: in the library of the workspace that the masters lie
// in, by their content, should the masters have come from elsewhere; else where the recipe says. Errors: kNotFound (no
// recipe in the folder, or a frame that is gone), kCorrupt (a recipe that cannot be read).
[[nodiscard]] Result<std::vector<EarlierFrame>> earlier_frames(const std::filesystem::path& masters);

}  // namespace ng::app
