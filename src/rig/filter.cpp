#include "rig/filter.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace ng::rig {

Result<void> Filter::validate() const {
  if (name.empty()) return Error(Code::kInvalidInput, "a filter needs a name");
  if (!(centre_nm >= 300 && centre_nm <= 1100))
    return Error(
        Code::kInvalidInput,
        fmt::format("filter {}: centre_nm is {}, outside the 300..1100 nm that silicon sees", name, centre_nm));
  if (!(width_nm > 0 && width_nm <= 800))
    return Error(Code::kInvalidInput,
                 fmt::format("filter {}: width_nm is {}: it must lie in (0, 800]", name, width_nm));
  if (!(flank_nm >= 0 && flank_nm <= width_nm))
    return Error(Code::kInvalidInput,
                 fmt::format("filter {}: flank_nm is {}: it must lie between 0 and width_nm", name, flank_nm));
  if (!(throughput > 0 && throughput <= 1))
    return Error(Code::kInvalidInput,
                 fmt::format("filter {}: throughput is {}: it must lie in (0, 1]", name, throughput));
  if (!(thickness_mm >= 0 && thickness_mm <= 20))
    return Error(Code::kInvalidInput,
                 fmt::format("filter {}: thickness_mm is {}: it must lie between 0 and 20", name, thickness_mm));
  if (!(refractive_index >= 1 && refractive_index <= 2.5))
    return Error(Code::kInvalidInput, fmt::format("filter {}: refractive_index is {}: it must lie between 1 and 2.5",
                                                  name, refractive_index));
  return {};
}

double Filter::at(double wavelength_nm) const {
  const double inside = width_nm / 2 - std::fabs(wavelength_nm - centre_nm);  // positive within the half-power points
  if (flank_nm <= 0) return inside >= 0 ? throughput : 0;
  return throughput * std::clamp(0.5 + inside / flank_nm, 0.0, 1.0);
}

}  // namespace ng::rig
