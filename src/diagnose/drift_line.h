// diagnose/drift_line.h - the slope of a star's offsets in a guide log, with an error that believes the noise as it is.
//
// Offsets of neighbouring seconds go together (seeing, wind, the guider's own lag), so counting each as a witness would
// promise too much: the offsets are averaged over up to 24 equal spans of time, a straight line is fitted to the
// averages, and its error follows from their scatter and from how far neighbours still go together. Offsets beyond 5
// robust standard deviations of a first line are left out.
#pragma once

#include <span>

#include "base/result.h"

namespace ng::diagnose {

struct DriftLine {
  double slope = 0;        // offset per second
  double slope_error = 0;  // one standard deviation
  double scatter = 0;      // of single offsets about the line, robust
  int used = 0, left_out = 0;
};

// Seconds ascending, of the same length as the offsets. Errors: kTooFew (fewer than 30 offsets or 60 seconds),
// kInvalidInput (seconds that do not rise).
[[nodiscard]] Result<DriftLine> drift_line(std::span<const double> seconds, std::span<const double> offsets);

}  // namespace ng::diagnose
