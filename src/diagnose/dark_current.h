// diagnose/dark_current.h - dark current of the usual pixel, its rise with temperature, and the glow of the amplifier.
//
// EMVA Standard 1288, section 2 and 7: dark current is the slope of the dark level over the exposure. The level is that
// of the usual pixel: means of blocks with hot pixels clipped away, and the median over the blocks, which glow in a
// corner does not move.
#pragma once

#include <optional>
#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "diagnose/measured.h"

namespace ng::diagnose {

// Signal of a dark above the bias, in ADU.
struct DarkLevel {
  double exposure_s = 0;
  Measured usual;                   // median over the blocks
  double glow = 0, glow_error = 0;  // of the brightest block above it, and the scatter of blocks
  int glow_x = 0, glow_y = 0;       // middle of that block, pixels
  double glowing_share = 0;         // of the blocks, with more glow than usual dark signal and than 5 times the scatter
  double mean = 0;                  // over all pixels
};
// `dark` and `bias` are means of frames. Errors: kTooFew (smaller than one block), kCancelled.
[[nodiscard]] Result<DarkLevel> dark_level(View<const float> dark, View<const float> bias, double exposure_s,
                                           const Context& ctx);

struct DarkRate {
  Measured adu_s;
  double reduced_chi2 = 0;  // of the straight line; 0 with one exposure
};
// Its error holds 0.6 % for warm pixels that no clipping tells from usual ones.
// Line through the bias (level 0 at 0 s, with `bias_error_adu`) and the darks. One dark is enough.
[[nodiscard]] std::optional<DarkRate> dark_rate(const std::vector<DarkLevel>& levels, double bias_error_adu);

struct RateAtTemperature {
  double temperature_c = 0;
  Measured e_s;
};
// D = D0 T^1.5 exp(-E / 2kT), T in kelvin (Janesick 2001; Widenhorn et al. 2002, Proc. SPIE 4669, 193), with E fitted:
// it bends as silicon does, where the standard's doubling temperature is a straight line in the logarithm.
struct TemperatureLaw {
  Measured energy_ev;   // about 1.2 where the middle of the band gap rules
  Measured doubling_c;  // in the middle: it changes with temperature
  double middle_c = 0;
  Measured e_s_there;
  double silicon_doubling_c = 0;  // there, by the law of rig/sensor.h
  double reduced_chi2 = 0;        // 0 with two temperatures
};
// Rate at a temperature by a law that has one energy and one known rate.
[[nodiscard]] double law_rate(double energy_ev, double known_c, double known_e_s, double celsius);
// Nothing with fewer than two temperatures at least 3 C apart, or where the rate does not rise with them.
[[nodiscard]] std::optional<TemperatureLaw> temperature_law(const std::vector<RateAtTemperature>& rates);

}  // namespace ng::diagnose
