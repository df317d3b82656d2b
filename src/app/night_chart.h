// app/night_chart.h - a night in one picture: altitude of targets and Moon, darkness as tone, the order of the night.
//
// Time runs from sunset to sunrise by the site's clock. Above: altitudes, thick while a target is exposed, faint below
// its limit; the paler the ground, the brighter the sky at the zenith. Below: one lane for each target, with its
// blocks.
#pragma once

#include <filesystem>

#include "app/schedule.h"
#include "base/result.h"
#include "io/overwrite.h"

namespace ng::app {

// Draws what the reply holds, nothing else. Errors: kNotFound (a time zone that does not exist), those of io::Canvas.
[[nodiscard]] Result<void> draw_night_chart(const ScheduleReply& reply, const std::filesystem::path& path,
                                            io::Overwrite overwrite);

}  // namespace ng::app
