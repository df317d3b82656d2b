// frame/facts.h - what a file says about its frame. Facts come from headers; nothing here is measured.
//
// Every number carries its unit in its name. A fact that the file does not state is absent, never a default; a fact
// that was read but is doubtful (an illegal card, two keywords that disagree) has a line in `warnings`.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/image.h"
#include "base/instant.h"
#include "frame/bayer.h"

namespace ng {

enum class FrameKind : std::uint8_t { kUnknown, kLight, kDark, kFlat, kBias, kDarkFlat };
[[nodiscard]] std::string_view to_string(FrameKind kind);  // "light", "dark", ..., "unknown"

struct FrameFacts {
  int width = 0;
  int height = 0;
  int planes = 1;  // 3 for a colour image that is already demosaiced
  FrameKind kind = FrameKind::kUnknown;

  std::optional<double> exposure_s;
  std::optional<double> value_exposure_s;   // what the values stand for, where several exposures were averaged
  std::optional<double> gain_setting;       // the camera's own gain number (dB/10, index ...), only ever compared
  std::optional<double> offset_setting;     // the camera's own offset number, only ever compared
  std::optional<double> electrons_per_adu;  // in stored ADU
  std::optional<double> read_noise_e;
  std::optional<double> sensor_temperature_c;
  std::optional<double> saturation_adu;   // stored value at which the sensor or converter is full
  std::optional<double> black_level_adu;  // constant that the camera software added (raw formats, PEDESTAL)
  // Of the pixels (0,0), (1,0), (0,1), (1,1) and so on over the mosaic, where a raw file gives its colours different
  // levels; black_level_adu is their mean then.
  std::optional<std::array<double, 4>> black_level_cell_adu;
  std::optional<double> pixel_size_um;  // after binning
  std::optional<double> focal_length_mm;
  std::optional<double> aperture_mm;
  std::optional<double> plate_scale_arcsec_px;
  std::optional<double> ra_deg;  // where the mount believed it pointed, J2000
  std::optional<double> dec_deg;
  std::optional<double> rotation_deg;        // mechanical angle of camera or rotator
  std::optional<double> site_latitude_deg;   // north positive
  std::optional<double> site_longitude_deg;  // east positive
  std::optional<double> site_elevation_m;
  std::optional<double> airmass;
  std::optional<Instant> start;
  std::optional<BayerPattern> bayer;  // of the first stored rows
  int binning_x = 1;
  int binning_y = 1;
  std::string filter;  // empty when the file names none
  std::string camera;
  std::string telescope;
  std::string object;
  std::optional<Region> useful_region;    // without overscan and dark borders (TRIMSEC); absent: the whole frame
  std::optional<Region> overscan_region;  // pixels that saw no light and carry the bias level (BIASSEC)

  // What the file says was done to it already. `calibrated` = it is no longer raw: dark-subtracted and flat-fielded, or
  // in electrons. Where the values are electrons, electrons_per_adu is 1: value x electrons_per_adu always holds.
  bool dark_subtracted = false;
  bool flat_fielded = false;
  bool calibrated = false;

  std::vector<std::string> warnings;
  // Of a frame of one plane: what the user says goes before what the file says.
  [[nodiscard]] std::optional<BayerPattern> mosaic(std::optional<BayerPattern> asked) const {
    if (planes != 1) return std::nullopt;
    return asked ? asked : bayer;
  }
};

}  // namespace ng
