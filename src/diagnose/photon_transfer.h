// diagnose/photon_transfer.h - conversion gain, full well, linearity and range from a ladder of flat pairs.
//
// EMVA Standard 1288, release 4.0 linear: sections 2 (noise model, SNR, threshold, range), 6.5 to 6.7 (how to fit). The
// numbers of sections are from memory; equations and values are checked against those of the published reference
// implementation (photon_transfer_test.cpp).
//   variance = K^2 sigma_d^2 + s^2/12 + K (mu - mu_dark)     K in ADU per electron; s: step of the stored values
// K is the slope through the origin of (variance - dark variance) over signal, up to 70 % of saturation.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "diagnose/measured.h"

namespace ng::diagnose {

// One pair of flats in one cell.
struct TransferPoint {
  double exposure_s = 0;
  double level_adu = 0;      // mean, zero level off
  double signal_adu = 0;     // to which the variance belongs
  double variance_adu2 = 0;  // temporal
  double centre_adu = 0, centre_variance_adu2 = 0;
  double ratio = 1;
  std::int64_t pixels = 0;
};

struct DarkNoise {
  double variance_adu2 = 0;  // temporal, of one bias frame
  double error_adu2 = 0;
  double step_adu = 1;
};

struct TransferFit {
  Measured gain_e_adu;
  double reduced_chi2 = 0;            // of the points that were used
  std::vector<bool> used;             // by point
  bool saturated = false;             // the ladder reaches saturation
  double saturation_adu = 0;          // where the variance is largest; else the highest level seen
  std::optional<double> ceiling_adu;  // level at which pixels stand still, where the ladder goes so high
};

// At least one point below saturation with light; nothing where the variance does not rise with the signal.
[[nodiscard]] std::optional<TransferFit> fit_transfer(const std::vector<TransferPoint>& points, const DarkNoise& dark);

// Of one bias frame, without the noise of rounding: sqrt(variance - step^2/12) x gain. Below a variance of 0.24 step^2
// rounding hides it: the value is then an upper limit, 0.40 steps (EMVA 1288; from memory).
struct ReadNoise {
  Measured electrons;
  bool upper_limit = false;
};
[[nodiscard]] ReadNoise read_noise(const DarkNoise& dark, const Measured& gain_e_adu);

// Straight line of level over exposure, relative deviations weighted alike, from 5 to 95 % of saturation.
struct Linearity {
  double mean_percent = 0;   // mean of the absolute deviations
  double worst_percent = 0;  // the largest
  double lamp_percent = 0;   // scatter of the lamp from flat to flat: what is below it belongs to the lamp
  int steps = 0;
  std::vector<double> exposure_s, deviation_percent;
};
// Nothing with fewer than 4 exposures in that range.
[[nodiscard]] std::optional<Linearity> linearity(const std::vector<TransferPoint>& points, double saturation_adu);

// Signal in electrons that gives a signal-to-noise ratio of 1, and the largest over it. `dark_noise_e` holds the
// rounding noise: sqrt(variance_adu2) x gain.
[[nodiscard]] double threshold_e(double dark_noise_e);
[[nodiscard]] double dynamic_range(double saturation_e, double dark_noise_e);

}  // namespace ng::diagnose
