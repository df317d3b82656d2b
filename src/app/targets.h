// app/targets.h - what a person means by the name of a target.
#pragma once

#include <string>

#include "base/result.h"
#include "catalog/object_file.h"

namespace ng::app {

// The built-in catalogue. Errors: kNotFound, kIo, kCorrupt.
[[nodiscard]] Result<catalog::ObjectFile> open_objects();

// The object of that name. Errors: kNotFound, with the names that look like it.
[[nodiscard]] Result<catalog::SkyObject> find_object(const catalog::ObjectFile& objects, const std::string& name);

// "in Triangulum", "in Dorado, in the galaxy LMC".
[[nodiscard]] std::string whereabouts(const catalog::ObjectFile& objects, const catalog::SkyObject& object);

// "M 33, Triangulum Galaxy": the designation, and the longest of its proper names when it has one.
[[nodiscard]] std::string title_of(const catalog::SkyObject& object);

// Below this distance a telescope that finds its target may sweep the Sun; common practice, no source.
inline constexpr double kSunRefused_rad = 0.5235987755982988;  // 30 degrees
// kInvalidInput with the caution when a target stands nearer to the Sun than that.
[[nodiscard]] Result<void> refuse_near_sun(const std::string& name, double sun_separation_rad);

}  // namespace ng::app
