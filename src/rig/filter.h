// rig/filter.h - what a filter lets through.
//
// A filter is a band with straight flanks: full throughput over the inner width, falling to nothing over `flank_nm` on
// each side (half throughput at the edges of the stated width). A line is inside when the throughput at its wavelength
// says so; nothing else decides.
#pragma once

#include <string>

#include "base/result.h"

namespace ng::rig {

struct Filter {
  std::string name;      // as written in the FILTER card
  double centre_nm = 0;  // middle of the band
  double width_nm = 0;   // full width at half maximum
  double flank_nm = 0;   // from full throughput to none; at most width_nm
  double throughput = 1;
  double thickness_mm = 0;         // of its glass; 0: not known
  double refractive_index = 1.52;  // of its glass

  [[nodiscard]] Result<void> validate() const;
  [[nodiscard]] double at(double wavelength_nm) const;
  // Integral of the throughput over wavelength, in nm of full transmission.
  [[nodiscard]] double equivalent_width_nm() const { return throughput * width_nm; }
  // How far a plane-parallel glass moves the focus away from the telescope: t (n - 1) / n, paraxial (any text on
  // optics).
  [[nodiscard]] double focus_shift_mm() const { return thickness_mm * (refractive_index - 1) / refractive_index; }
};

}  // namespace ng::rig
