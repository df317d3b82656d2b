// The nights that come built in. Site, telescope and cameras are invented.
#include <fmt/format.h>

#include "simulate/scenario.h"

namespace ng::simulate {
namespace {

const std::array<rig::Filter, 7> kWheel{{
    {"L", 550, 300, 12, 0.96},
    {"R", 638, 100, 12, 0.95},
    {"G", 537, 88, 12, 0.94},
    {"B", 453, 110, 12, 0.93},
    {"Ha", 656.5, 7, 1.5, 0.91},
    {"OIII", 500.5, 7, 1.5, 0.90},
    {"SII", 672.4, 7, 1.5, 0.91},
}};

rig::Curve mono_efficiency() {
  return {{{350, 0.35},
           {400, 0.62},
           {450, 0.82},
           {500, 0.88},
           {550, 0.87},
           {600, 0.82},
           {650, 0.74},
           {700, 0.63},
           {800, 0.42},
           {900, 0.22},
           {1000, 0.08}}};
}

}  // namespace

Result<rig::Filter> built_in_filter(const std::string& name) {
  std::string known;
  for (const rig::Filter& filter : kWheel) {
    if (filter.name == name) return filter;
    known += (known.empty() ? "" : ", ") + filter.name;
  }
  return Error(Code::kNotFound, fmt::format("the wheel has no filter '{}': it has {}", name, known));
}

Scenario built_in_scenario(NightSize size) {
  Scenario s;
  s.optics = {"Larch Hollow 130 mm refractor", 130, 0, 650, 0.92};
  rig::Sensor& sensor = s.camera.sensor;
  sensor.gain_e_adu = 0.78;
  sensor.read_noise_e = 1.7;
  sensor.full_well_e = 50000;
  sensor.offset_adu = 500;
  sensor.dark_e_s = 0.0035;
  sensor.dark_reference_c = -10;
  sensor.quantum_efficiency = mono_efficiency();
  if (size == NightSize::kSmall) {
    sensor.name = "Larch Hollow 6 MPix";
    sensor.width = 3000;
    sensor.height = 2000;
    sensor.pixel_um = 6.0;
    for (int i = 0; i < 4; ++i) s.filters.push_back({kWheel[i], i == 0 ? 12 : 8});
    s.exposures.light_s = 240;
    s.exposures.darks = s.exposures.flats = s.exposures.dark_flats = s.exposures.bias = 6;
    s.mount.dither_px = 60;
  } else {
    sensor.name = "Larch Hollow 12 MPix";
    sensor.width = 4240;
    sensor.height = 2832;
    sensor.pixel_um = 4.2;
    s.filters.push_back({kWheel[0], 16});
  }
  return s;
}

Scenario with_mosaic_sensor(Scenario s) {
  s.camera.sensor.bayer = BayerPattern::kRggb;
  s.camera.sensor.name += " (colour)";
  // Dyes overlap more than the filters of a wheel do. A window of 400..700 nm lies in front of the chip.
  s.mosaic = {{{"red", 622, 110, 60, 0.82}, {"green", 535, 110, 60, 0.88}, {"blue", 462, 100, 60, 0.80}}};
  const int lights = s.light_count();
  s.filters.resize(1);
  s.filters[0].filter = rig::Filter{"mosaic", 550, 300, 12, 0.96};
  s.filters[0].lights = lights;
  return s;
}

}  // namespace ng::simulate
