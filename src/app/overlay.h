// app/overlay.h - a frame as a grey picture with its annotation drawn on it, for a person to look at.
#pragma once

#include <filesystem>
#include <optional>

#include "app/annotation.h"
#include "base/result.h"
#include "frame/bayer.h"
#include "io/overwrite.h"

namespace ng::app {

// PNG or SVG, by the extension; the first row at the top, at most 1600 pixels wide and high. Errors: those of reading
// the frame and of io::Canvas.
[[nodiscard]] Result<void> draw_overlay(const std::filesystem::path& frame, std::optional<BayerPattern> bayer,
                                        const FrameAnnotation& annotation, const std::filesystem::path& path,
                                        io::Overwrite overwrite);

}  // namespace ng::app
