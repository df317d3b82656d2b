// app/frames_sheet.h - all frames of a master on one picture, each with its grade, and how the noise fell with them.
#pragma once

#include <cstdint>
#include <filesystem>
#include <span>

#include "app/light_frames.h"
#include "app/reduce.h"
#include "base/image.h"
#include "base/result.h"
#include "io/atomic_file.h"
#include "io/overwrite.h"

namespace ng::app {

// The whole picture, at most kThumbnailPx wide and high: means of square blocks, sky dark grey, `noise` just visible.
inline constexpr int kThumbnailPx = 224;
[[nodiscard]] Image<std::uint8_t> thumbnail(View<const float> picture, float sky, float noise);

// PNG, to be committed. `lights` in the order of the night, those left out among them; all of one master.
[[nodiscard]] Result<io::AtomicFile> draw_frames_sheet(const std::filesystem::path& path,
                                                       std::span<const Light* const> lights, const ReduceMaster& master,
                                                       io::Overwrite overwrite);

}  // namespace ng::app
