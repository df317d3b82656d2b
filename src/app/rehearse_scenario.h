// app/rehearse_scenario.h - the night that a request asks for: built-in, then the file, then the options.
//
// The file is TOML. Tables and keys carry the names of simulate/scenario.h, units included; every key may be left out:
//   seed, satellite                    at the top
//   [site] [target] [air] [mount]      as in the structs Site, Target, Air, Mount
//   [optics]                           name, aperture_mm, obstruction_mm, focal_length_mm, reducer, throughput
//   [sensor]                           name, width, height, pixel_um, gain_e_adu, read_noise_e, full_well_e,
//   offset_adu,
//                                      bits, dark_e_s, dark_reference_c
//   [camera]                           the other fields of the struct Camera
//   [exposures]                        as in the struct Exposures
//   [[filters]]                        name, lights, and centre_nm, width_nm, flank_nm, throughput unless it is one of
//   the
//                                      built-in wheel
// An unknown key, a wrong type or a value out of range is an error that names file, line and key.
#pragma once

#include "app/rehearse.h"
#include "base/result.h"
#include "simulate/scenario.h"

namespace ng::app {

[[nodiscard]] Result<simulate::Scenario> scenario_of(const RehearseRequest& request);
// Changes `scenario` by the text of a file; `name` is for messages.
[[nodiscard]] Result<void> apply_scenario_text(const std::string& text, const std::string& name,
                                               simulate::Scenario& scenario);

}  // namespace ng::app
