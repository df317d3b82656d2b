// measure/field_profile.h - how the shape of the stars varies over one frame, from the stars fitted on it.
#pragma once

#include "frame/field_profile.h"
#include "frame/star_list.h"

namespace ng::measure {

// Least squares with the errors of the fits, freed of wild ones (galaxies, doubles) in a few rounds; the degree grows
// with the number of stars: constant below 15, linear below 60, then quadratic. `typical` (FrameMeasure::profile)
// gives the concentration, with which the stars were fitted, and the answer where fewer than 3 stars are fit for it.
[[nodiscard]] FieldProfile field_profile(const StarList& list, const Profile& typical);

}  // namespace ng::measure
