// app/input_frames.h - the files of a folder as frames: opened, hashed, sorted by what their headers say.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"
#include "frame/source.h"

namespace ng::app {

struct InputFrame {
  std::filesystem::path path;
  std::unique_ptr<FrameSource> source;  // null when the file could not be opened
  FrameKind kind = FrameKind::kUnknown;
  std::string hash;    // XXH3-128 of the file, hexadecimal
  std::string reason;  // why it is left out; empty while it is in

  [[nodiscard]] bool usable() const { return source != nullptr && reason.empty(); }
  [[nodiscard]] const FrameFacts& facts() const { return source->facts(); }
};

// Every regular file below the folder, in order of path, but for hidden ones and those that are plainly something else
// (texts, our own results, calibration masters that were kept). Files that are broken stay in the list with the reason;
// of files with equal content the first stays in. What to make of a frame without a kind is left to the caller. Errors:
// kNotFound (no such folder, or not one file in it).
[[nodiscard]] Result<std::vector<InputFrame>> collect_frames(const std::filesystem::path& folder,
                                                             const std::filesystem::path& skip, const Context& ctx);

// The same for files that are named one by one; appended to `frames`, and doubles are told once more among all.
[[nodiscard]] Result<void> add_frames(const std::vector<std::filesystem::path>& paths, std::vector<InputFrame>& frames,
                                      const Context& ctx);

// Values of a header, as the report of the work shows them.
[[nodiscard]] std::string describe(const FrameFacts& facts);

}  // namespace ng::app
