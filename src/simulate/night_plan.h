// simulate/night_plan.h - when each light is taken, where the frame lies on the sky, and through what air.
//
// The sky plane is the tangent plane at the target (sky/gnomonic.h) in arcseconds: xi towards east, eta towards north.
// Frame pixels are 0-based, row 0 on top. With the top of the frame at position angle P (from north through east),
// east lies on the left:
//   x = (width - 1)/2 + (eta' sin P - xi' cos P) / s,   y = (height - 1)/2 - (xi' sin P + eta' cos P) / s
// where (xi', eta') are in the tangent plane at the frame's own centre and s is the plate scale; in a mirrored picture
// east lies on the right, the sign of the first bracket changes. A lens then bends that flat picture about its middle
// (math/bend.h, radial). Both together are the map given, exactly.
#pragma once

#include <vector>

#include "base/instant.h"
#include "base/result.h"
#include "math/plane_map.h"
#include "simulate/scenario.h"
#include "simulate/seeing_profile.h"

namespace ng::simulate {

struct LightPlan {
  int filter = 0;  // index into Scenario::filters
  int number = 0;  // among the lights of its filter, from 1
  int panel = 0;   // row by row, from the top left one of the picture before the flip
  Instant start;
  double altitude_rad = 0;
  double airmass = 1;
  double centre_ra_deg = 0;  // of the frame, true
  double centre_dec_deg = 0;
  double mount_ra_deg = 0;  // where the mount believes to point
  double mount_dec_deg = 0;
  double position_angle_rad = 0;
  bool flipped = false;
  math::PlaneMap from_sky;  // sky plane [arcsec] to frame pixels
  SeeingProfile profile;
  // Share of the light that arrives, relative to clear air at airmass 1, apart from extinction by airmass, which
  // differs from band to band: cloud and small changes.
  double clearness = 1;
  double cloud = 0;         // share of the light taken by cloud
  double sky_factor = 1;    // brightness of the sky relative to the dark zenith
  double gradient = 0;      // share by which the sky grows from the middle of the frame to a corner ...
  double gradient_rad = 0;  // ... in this direction, from x towards y
  bool satellite = false;
};

// Errors: kInvalidInput when the target is not high enough (15 degrees) through the whole session.
[[nodiscard]] Result<std::vector<LightPlan>> plan_lights(const Scenario& scenario);

// Sky plane [arcsec] to pixels of a flat frame of the scenario's sensor centred at (ra, dec).
[[nodiscard]] math::Homography frame_from_sky(const Scenario& scenario, double ra_deg, double dec_deg,
                                              double position_angle_rad);

// Rectangle of the sky plane, in arcseconds, that holds every light.
struct SkyBox {
  double xi0 = 0, xi1 = 0, eta0 = 0, eta1 = 0;
};
[[nodiscard]] SkyBox covered_sky(const Scenario& scenario, const std::vector<LightPlan>& lights, double margin_arcsec);

}  // namespace ng::simulate
