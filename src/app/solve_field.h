// app/solve_field.h - what the solver is told of a file: its stars, and what the header says of place, scale and time.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/measure.h"
#include "astrometry/field.h"
#include "base/context.h"
#include "base/instant.h"
#include "base/result.h"
#include "frame/facts.h"

namespace ng::app {

struct SolveField {
  astrometry::Field field;
  std::optional<double> ra_deg, dec_deg;  // where the header believes that the frame lies
  std::optional<double> scale_arcsec_px;  // by the header
  std::optional<double> pixel_size_um;
  std::optional<Instant> start;
  int left_out = 0;  // detections that are no star images: hot pixels, trails, rays
  std::vector<std::string> notes;
};

// As stated, else from pixel size and focal length; nothing where neither is there.
[[nodiscard]] std::optional<double> stated_scale_arcsec_px(const FrameFacts& facts);

// Errors as for measure().
[[nodiscard]] Result<SolveField> field_of(const std::filesystem::path& file, std::optional<BayerPattern> bayer,
                                          const Context& ctx);

}  // namespace ng::app
