#include "app/drizzle_plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

namespace ng::app {
namespace {

constexpr std::array kPixfracs = {0.5, 0.6, 0.7, 0.8, 0.9, 1.0};

reduce::DitherCover cover_of(std::span<const reduce::StackFrame> frames, const reduce::StackOptions& stack,
                             double pixfrac, double scale) {
  const reduce::DrizzleOptions options{.stack = {}, .pixfrac = pixfrac, .scale = scale};
  std::vector<reduce::DropFrame> drops;
  for (const reduce::StackFrame& frame : frames) drops.push_back(reduce::drop_frame(frame, options));
  return reduce::dither_cover(drops, reduce::drizzled_size(stack.width, scale),
                              reduce::drizzled_size(stack.height, scale), stack.planes);
}

bool covers(const reduce::DitherCover& cover, double most) {
  return cover.empty_share == 0 && cover.unevenness <= most;
}

std::string shortfall(const DrizzlePlan& plan, bool mosaic, int planes) {
  constexpr std::array kColours = {"red", "green", "blue"};
  const char* whose = planes == 3 ? kColours[static_cast<std::size_t>(plan.cover.plane)] : "the";
  return fmt::format(
      "the dithers spread {} pixels{} unevenly: the weights scatter by {:.0f} %, {:.1f} % of the master's "
      "pixels get nothing",
      whose, mosaic ? " of the mosaic" : "", 100 * plan.cover.unevenness, 100 * plan.cover.empty_share);
}

}  // namespace

std::string to_string(DrizzleChoice choice) {
  constexpr std::array kNames = {"auto", "yes", "no"};
  return kNames[static_cast<std::size_t>(choice)];
}

Result<void> DrizzleRequest::validate() const {
  if (choice == DrizzleChoice::kNo && (scale != 1 || pixfrac))
    return Error(Code::kInvalidInput,
                 "--drizzle no: --scale and --pixfrac say how to drizzle; leave them out, or the no");
  return {};
}

DrizzlePlan plan_drizzle(std::span<const reduce::StackFrame> frames, const reduce::StackOptions& options,
                         const DrizzleRequest& request) {
  DrizzlePlan plan;
  const bool mosaic =
      std::all_of(frames.begin(), frames.end(), [](const reduce::StackFrame& f) { return f.bayer.has_value(); });
  if (request.choice == DrizzleChoice::kNo || (!request.certain() && !mosaic)) return plan;
  plan.scale = request.scale;
  for (const double pixfrac : kPixfracs) {
    plan.pixfrac = request.pixfrac.value_or(pixfrac);
    plan.cover = cover_of(frames, options, plan.pixfrac, plan.scale);
    if (request.pixfrac || covers(plan.cover, kEvenWeights)) break;
  }
  const bool suffices = covers(plan.cover, kMaxUnevenness);
  plan.drizzled = request.certain() || suffices;
  if (suffices) return plan;
  plan.note = shortfall(plan, mosaic, options.planes);
  if (!plan.drizzled)
    plan.note =
        fmt::format("not drizzled from the mosaic but demosaiced: {}. More dithered frames would do", plan.note);
  return plan;
}

}  // namespace ng::app
