// plan/star_counts.h - how many stars of which brightness a field holds, where no catalogue reaches deep enough.
//
// Mean over the whole sky of the stars brighter than V, per square degree: Allen's Astrophysical Quantities (table of
// star counts, from memory; good to some 10 %). The Milky Way has three times as many, its poles a third: give the
// density.
#pragma once

namespace ng::plan {

// Stars brighter than V per square degree, mean of the sky. V from 5 to 20, continued straight in the logarithm.
[[nodiscard]] double stars_per_deg2(double v_mag);
// The V magnitude down to which a field holds `stars` stars, if it has `density` times the mean of the sky.
[[nodiscard]] double magnitude_of_star_number(double stars, double field_deg2, double density);

}  // namespace ng::plan
