// simulate/nebula.h - an emission nebula that never was: a ring of glowing gas around a young cluster, with filaments,
// dark lanes and globules.
//
// Two surfaces on the sky plane, in rayleighs above the air: H-alpha, and [O III] 500.7 nm, which lies further inside,
// where the starlight is harder. They are made of warped lattice noise (lattice_noise.h) and depend on place and seed
// alone: every frame, filter and rig sees the same sky. The finest structure is some 10 arcseconds from ridge to ridge,
// so the seeing is taken as part of the picture and not applied again. Proportions follow the region of NGC 2237 by
// eye.
#pragma once

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "simulate/night_plan.h"
#include "simulate/scenario.h"

namespace ng::simulate {

struct NebulaMaps {
  double xi0_arcsec = 0, eta0_arcsec = 0;  // of node (0, 0); xi grows with x, eta with y
  double step_arcsec = 3;
  Image<float> h_alpha;  // rayleighs
  Image<float> oxygen;   // [O III] 500.7 nm alone
  Image<float> dust;     // optical depth at H-alpha
};

// Covers the box and a margin of two nodes. Errors: kCancelled.
[[nodiscard]] Result<NebulaMaps> make_nebula(const Scenario& scenario, const SkyBox& box, const Context& ctx);

// Lines of the nebula and their strength relative to the map that they follow (common practice, no source, but for
// H-beta: 1/2.86 of the energy of H-alpha in case B at 10^4 K (Osterbrock), 0.26 of the photons, dimmed to 0.16 by a
// reddening of E(B-V) = 0.47, that of the cluster from memory): per map, sum over lines of strength x what
// `throughput(wavelength_nm)` lets through.
struct LineThroughput {
  double h_alpha_group = 0;  // H-alpha 656.28, [N II] 654.80 and 658.35, H-beta 486.13, [S II] 671.64 and 673.08
  double oxygen_group = 0;   // [O III] 500.68 and 495.89
};
template <typename Throughput>
[[nodiscard]] LineThroughput line_throughput(const Throughput& t) {
  return {t(656.28) + 0.09 * t(654.80) + 0.27 * t(658.35) + 0.16 * t(486.13) + 0.12 * t(671.64) + 0.09 * t(673.08),
          t(500.68) + 0.335 * t(495.89)};
}

}  // namespace ng::simulate
