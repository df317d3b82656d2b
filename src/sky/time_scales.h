// sky/time_scales.h - UTC to the scales of the ephemerides.
//
// TT = UTC + leap seconds + 32.184 s, with the leap seconds that ERFA carries (eraDat); from the year in which ERFA
// calls its table out of date, `doubtful` is set: leap seconds announced since then are missing, 1 s of time each (15
// arcsec of turning sky). UT1 - UTC is below 0.9 s by definition of UTC; it is measured, not computed, and so comes
// from the caller: taken as 0, the sky is turned by up to 14 arcsec, and events come up to 0.9 s early or late.
#pragma once

#include "base/instant.h"
#include "base/result.h"

namespace ng::sky {

// A Julian date in two parts, whose sum is the date (ERFA's convention; keeps microseconds).
struct JulianDate {
  double day = 0;
  double rest = 0;
};

struct TimeScales {
  JulianDate utc;  // quasi Julian date as ERFA defines it
  JulianDate tt;
  double tai_minus_utc_s = 0;
  bool doubtful = false;
};

// Errors: kUnsupported before 1960, when there was no UTC.
[[nodiscard]] Result<TimeScales> time_scales(Instant utc);

// From this moment on time_scales() flags what it gives.
[[nodiscard]] Instant leap_seconds_doubtful_after();

}  // namespace ng::sky
