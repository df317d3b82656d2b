// app/pole_drift.h - drifts of stars for the pole service: from pairs of frames and from guide logs.
#pragma once

#include <optional>
#include <vector>

#include "app/pole_place.h"
#include "diagnose/drift.h"

namespace ng::app {

struct NamedDrift {
  std::string from;
  diagnose::SeenDrift seen;
};

// Pairs first, then logs. `last` becomes the last frame, where there is one. Errors: kInvalidInput (times, a mount that
// stood still, a log without its columns), those of place() and drift_line().
[[nodiscard]] Result<std::vector<NamedDrift>> seen_drifts(const PoleRequest& r, const Setting& setting,
                                                          std::optional<Placed>& last, const Context& ctx);

// For the reply. Errors: those of the times.
[[nodiscard]] Result<PoleSeenDrift> described(const NamedDrift& drift, const Setting& setting);

}  // namespace ng::app
