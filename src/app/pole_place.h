// app/pole_place.h - site, air and solved frames of the pole service: where a camera stood on the ground.
#pragma once

#include <filesystem>

#include "app/pole.h"
#include "diagnose/attitude.h"
#include "frame/facts.h"
#include "sky/moment.h"

namespace ng::app {

// A frame on the ground: its attitude, and what else the reply needs of it.
struct Placed {
  diagnose::Attitude attitude;
  Wcs wcs;
  math::Point middle_px{};
  double scale_rad = 0, half_diagonal_px = 0;
  Instant middle;  // of the exposure
};

struct Setting {
  sky::Site site;
  sky::Air air;
};

// What the request says, else the workspace, else the facts of a file. Sets the reply's site and its notes.
// Errors: kInvalidInput (no site, or none on the Earth), those of the workspace.
[[nodiscard]] Result<Setting> setting_of(const PoleRequest& r, const FrameFacts& facts, PoleReply& reply);

[[nodiscard]] Result<FrameFacts> facts_of(const std::filesystem::path& file);

// Solves the file, or takes the header's solution where the request says so. Errors: kInvalidInput (no time),
// kNoMatch (not solved), those of solve().
[[nodiscard]] Result<Placed> place(const std::filesystem::path& file, const PoleRequest& r, const Setting& setting,
                                   const Context& ctx);

}  // namespace ng::app
