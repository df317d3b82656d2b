// reduce/single/master.h - many calibration frames become one, row by row, without holding them.
//
// Every frame is brought to one footing first (zero level off, scaled to its own median: flats differ in brightness),
// then the values of each pixel are averaged with outliers left out (math/sorted_rows.h, clipped_mean_rows). The floor
// of the scatter comes from the difference of the first two frames.
#pragma once

#include <memory>
#include <optional>
#include <span>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/bayer.h"
#include "frame/source.h"

namespace ng::reduce {

// Counts up with every change of a pixel that make_master() gives: masters kept by an older one are not used then.
inline constexpr int kMasterVersion = 1;

struct MasterOptions {
  float kappa = 4;
  View<const float> zero;             // subtracted from each frame; may be empty
  float zero_level = 0;               // where `zero` is empty
  bool normalise = false;             // divide each frame by its median: flats
  std::optional<BayerPattern> bayer;  // normalise each colour by its own median
};

struct Master {
  Image<float> image;
  float single_noise = 0;  // standard deviation of one frame's pixel (temporal), in the frames' units after the footing
};

// All sources have one size. Errors: those of reading; kInvalidInput when a frame that should be normalised has no
// light.
[[nodiscard]] Result<Master> make_master(std::span<const std::unique_ptr<FrameSource>> frames,
                                         const MasterOptions& options, const Context& ctx);

}  // namespace ng::reduce
