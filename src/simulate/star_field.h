// simulate/star_field.h - the stars over the field: those of a catalogue, and fainter ones drawn.
//
// Drawn stars follow log10 N(< V per square degree) = log10 N15 + 0.36 (V - 15) - 0.009 (V - 15)^2: counts near the
// galactic plane, slope 0.45 at V 10 and 0.28 at V 19.5 (common practice, numbers from memory). They begin where
// the catalogue ceases to be complete, V 9 for the built-in one; without a catalogue at V 6. Colours: a normal B-V of
// 0.85 +- 0.33, bounded. The young cluster at the target: a dense core with a halo (projected density ~ (1 +
// r^2/c^2)^-2, c = 4'), V 8 to 15, B-V around 0.2.
#pragma once

#include <optional>
#include <vector>

#include "catalog/star_file.h"
#include "simulate/nebula.h"
#include "simulate/night_plan.h"
#include "simulate/scenario.h"

namespace ng::simulate {

enum class StarOrigin : std::uint8_t { kCatalogue, kCluster, kField };

struct FieldStar {
  double ra_deg = 0, dec_deg = 0;        // J2000
  double xi_arcsec = 0, eta_arcsec = 0;  // sky plane
  double v_mag = 0, b_minus_v = 0;
  StarOrigin origin = StarOrigin::kField;
};

// Brightest first. `catalogue` may be null.
[[nodiscard]] std::vector<FieldStar> draw_star_field(const Scenario& scenario, const SkyBox& box,
                                                     const catalog::StarFile* catalogue);

// Drawn field stars fainter than V 12 stand behind the nebula's dust: dimmed by A_V = 1.22 x 1.086 x its depth at
// H-alpha (Cardelli, Clayton & Mathis 1989 give 0.82 for H-alpha over V with R = 3.1, from memory) and reddened by A_V
// / 3.1. The order by brightness is kept.
void redden_behind_dust(const NebulaMaps& nebula, std::vector<FieldStar>& stars);

}  // namespace ng::simulate
