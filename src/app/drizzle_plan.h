// app/drizzle_plan.h - whether a master is drizzled, and with what drops.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "base/result.h"
#include "reduce/stack/dither_cover.h"
#include "reduce/stack/drizzle.h"

namespace ng::app {

enum class DrizzleChoice { kAuto, kYes, kNo };
[[nodiscard]] std::string to_string(DrizzleChoice choice);  // "auto", "yes", "no"

struct DrizzleRequest {
  DrizzleChoice choice = DrizzleChoice::kAuto;  // kAuto: frames of a mosaic, where their dithers suffice
  std::optional<double> pixfrac;                // side of a drop in pixels of its frame; absent: by the dithers
  double scale = 1;  // side of a master's pixel in pixels of the reference frame; other than 1: all are drizzled

  [[nodiscard]] bool certain() const { return choice == DrizzleChoice::kYes || scale != 1; }
  // Errors: kInvalidInput where the options contradict each other.
  [[nodiscard]] Result<void> validate() const;
};

// Dithers suffice where no pixel of any colour goes without a drop and the weights scatter by no more than this share:
// balanced drops (drops.h) lose about a third of its square then, 2 % of the depth. Larger drops spread them more
// evenly and are less sharp: taken are the smallest whose weights scatter by no more than kEvenWeights, or a pixel
// where none do. All colours have drops of one size, and with it stars of one profile.
inline constexpr double kMaxUnevenness = 0.25, kEvenWeights = 0.2;

struct DrizzlePlan {
  bool drizzled = false;
  double pixfrac = 1;
  double scale = 1;
  reduce::DitherCover cover;
  std::string note;  // why not, or what is doubtful
};

[[nodiscard]] DrizzlePlan plan_drizzle(std::span<const reduce::StackFrame> frames, const reduce::StackOptions& options,
                                       const DrizzleRequest& request);

}  // namespace ng::app
