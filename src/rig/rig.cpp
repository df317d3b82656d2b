#include "rig/rig.h"

#include <fmt/format.h>

#include <cmath>

#include "base/angle.h"
#include "base/near_word.h"

namespace ng::rig {

Result<void> Rig::validate() const {
  NG_CHECK(optics.validate().in("optics"));
  NG_CHECK(gains.validate().in("sensor"));
  NG_CHECK(sensor.validate());
  if (filters.empty())
    return Error(Code::kInvalidInput,
                 "the rig has no filter: name one at least; without a wheel, the window before the "
                 "sensor");
  for (std::size_t i = 0; i < filters.size(); ++i) {
    NG_CHECK(filters[i].validate());
    for (std::size_t j = 0; j < i; ++j)
      if (filters[j].name == filters[i].name)
        return Error(Code::kInvalidInput, fmt::format("there are two filters {}", filters[i].name));
  }
  if (guide) NG_CHECK(guide->validate().in("guide"));
  return {};
}

double field_deg(double side_mm, double focal_length_mm) {
  return rad_to_deg(2 * std::atan(side_mm / 2 / focal_length_mm));
}

double Rig::field_width_deg() const {
  return field_deg(sensor.width * sensor.pixel_um * 1e-3, optics.effective_focal_length_mm());
}

double Rig::field_height_deg() const {
  return field_deg(sensor.height * sensor.pixel_um * 1e-3, optics.effective_focal_length_mm());
}

Result<Filter> Rig::filter(const std::string& wanted) const {
  std::vector<std::string> known;
  for (const Filter& f : filters) {
    if (f.name == wanted) return f;
    known.push_back(f.name);
  }
  const auto near = near_word(wanted, known);
  return Error(Code::kNotFound,
               fmt::format("the rig has no filter {}{}; it has {}", wanted,
                           near ? fmt::format("; did you mean {}?", *near) : "", fmt::join(known, ", ")));
}

}  // namespace ng::rig
