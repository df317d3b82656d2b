// rig/mount.h - how the mount moves, how well, and what every pause costs.
#pragma once

namespace ng::rig {

struct Mount {
  double past_meridian_min = 10;      // that it may track beyond the meridian before it must flip; 0: flips on it
  double flip_min = 6;                // from the last exposure before the flip to the first after it, centring included
  double guided_error_arcsec = 0.8;   // rms per axis while guided
  double periodic_error_arcsec = 20;  // unguided, from peak to peak, along right ascension
  double worm_period_s = 480;
  double polar_error_arcmin = 5;  // between the mount's axis and the pole
  double slew_deg_s = 3;
};

struct Timing {
  double download_s = 2;  // from the end of an exposure to the beginning of the next
  double dither_px = 3;   // in pixels of the main camera, each axis, either way
  double dither_s = 12;   // with settling
  int dither_every = 1;   // exposures
  double filter_change_s = 5;
  double refocus_min = 3;
  double refocus_every_c = 2;       // change of temperature after which the focus is measured again; 0: never for that
  bool refocus_with_filter = true;  // at every change of the filter
  double centring_min = 3;          // slew, solve and centre on a new target
  double park_min = 2;
  double flats_min = 20;  // at dusk or dawn, for all filters together
};

}  // namespace ng::rig
