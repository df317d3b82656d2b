#include "rig/curve.h"

#include <fmt/format.h>

#include <algorithm>

namespace ng::rig {

double Curve::at(double wavelength_nm) const {
  const auto above = std::upper_bound(points.begin(), points.end(), wavelength_nm,
                                      [](double w, const CurvePoint& p) { return w < p.wavelength_nm; });
  if (above == points.begin()) return 0;
  const CurvePoint& a = *(above - 1);
  if (above == points.end()) return a.wavelength_nm == wavelength_nm ? a.value : 0;
  return a.value +
         (above->value - a.value) * (wavelength_nm - a.wavelength_nm) / (above->wavelength_nm - a.wavelength_nm);
}

Result<void> Curve::validate(const std::string& what) const {
  if (points.size() < 2)
    return Error(Code::kInvalidInput, fmt::format("{}: a curve over wavelength needs two points or more", what));
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!(points[i].value >= 0 && points[i].value <= 1))
      return Error(Code::kInvalidInput, fmt::format("{} is {} at {} nm: it must lie between 0 and 1", what,
                                                    points[i].value, points[i].wavelength_nm));
    if (i > 0 && !(points[i].wavelength_nm > points[i - 1].wavelength_nm))
      return Error(Code::kInvalidInput, fmt::format("{}: wavelengths must rise, but {} nm follows {} nm", what,
                                                    points[i].wavelength_nm, points[i - 1].wavelength_nm));
  }
  return {};
}

}  // namespace ng::rig
