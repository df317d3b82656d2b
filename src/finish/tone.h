// finish/tone.h - from electrons to the light of a display, keeping the colour of what is bright.
//
// R. Lupton et al. 2004, PASP 116, 133, eq. 1-2: with I = (R + G + B) / 3, every channel is multiplied by F(I) / I, so
// that ratios of channels stay what they are at any brightness; F(I) = scale asinh(bend (I - black)). A pixel that
// leaves the display's range is divided by its largest channel: its colour stays. The result is linear light, 0 black
// to 1 white; srgb.h encodes it.
//
// Departures: towards white the colour fades a little (highlights; the eye and film do so too), and saturation may be
// raised mildly: pale colours gain, a colour that is nearly pure already does not, or it would lose its drawing.
#pragma once

#include <array>
#include <span>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"

namespace ng::finish {

struct ToneCurve {
  double black = 0;  // brightness that becomes 0
  double bend = 1;   // per unit of brightness: linear well below 1 / bend, logarithmic above
  double scale = 1;

  [[nodiscard]] double operator()(double brightness) const;
  // The curve through (black, 0) and (white, 1).
  [[nodiscard]] static ToneCurve between(double black, double white, double bend);
};

struct ToneOptions {
  double sky_display = 0.10;       // encoded sRGB value, 0..1, at which the sky shall stand: dark, but not black
  double nebula_display = 0.45;    // and the brightest hundredth of the field without its stars, if noise permits
  double min_black_sigmas = 2;     // the black point lies at least so many sigma below the sky, where there is a nebula
  double empty_black_sigmas = 4;   // and where there is none: nothing to be gained from showing the grain
  double max_black_sigmas = 200;   // and at most so many
  double white_quantile = 0.9998;  // of the pixels: only the cores of the brightest stars may reach white
};

struct ToneChoice {
  ToneCurve curve;
  double sky = 0;  // level and noise of the sky's brightness that were found
  double noise = 0;
  double white = 0;
};

// Chooses black and bend so that sky and nebula come to stand where the options say.
[[nodiscard]] ToneChoice choose_tone(View<const float> brightness, const ToneOptions& options);

// In place, one plane or three. `saturation` 1 leaves the colours as they are. Errors: kCancelled.
[[nodiscard]] Result<void> apply_tone(std::span<const View<float>> planes, const ToneCurve& curve, double saturation,
                                      const Context& ctx);

}  // namespace ng::finish
