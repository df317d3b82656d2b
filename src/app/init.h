// app/init.h - a new workspace: commented site.toml and rig.toml, and the folders for what will come.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"

namespace ng::app {

// What is given here goes into the files; the rest stays that of an invented site and rig, to be changed.
struct InitRequest {
  std::filesystem::path folder;
  std::optional<std::string> site_name;
  std::optional<double> latitude_deg, longitude_deg, elevation_m, sky_mag_arcsec2;
  std::optional<std::string> time_zone;
  std::optional<double> aperture_mm, obstruction_mm, focal_length_mm, reducer;
  std::optional<double> pixel_um;
  std::optional<int> width_px, height_px;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("folder", self.folder);
    visit("site_name", self.site_name);
    visit("latitude_deg", self.latitude_deg);
    visit("longitude_deg", self.longitude_deg);
    visit("elevation_m", self.elevation_m);
    visit("sky_mag_arcsec2", self.sky_mag_arcsec2);
    visit("time_zone", self.time_zone);
    visit("aperture_mm", self.aperture_mm);
    visit("obstruction_mm", self.obstruction_mm);
    visit("focal_length_mm", self.focal_length_mm);
    visit("reducer", self.reducer);
    visit("pixel_um", self.pixel_um);
    visit("width_px", self.width_px);
    visit("height_px", self.height_px);
  }
};

struct InitReply {
  std::string folder;
  std::vector<std::string> written;    // files and folders that are new
  std::vector<std::string> kept;       // files that were there and stay as they are
  std::vector<std::string> to_change;  // "FILE: KEY", still of the invented site and rig
  std::string time_zone;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("folder", self.folder);
    visit("written", self.written);
    visit("kept", self.kept);
    visit("to_change", self.to_change);
    visit("time_zone", self.time_zone);
  }
};

// A file that is there is never touched: init completes a workspace. Errors: kInvalidInput (a value out of range, with
// its key), kExists (all is there already), kIo.
[[nodiscard]] Result<InitReply> init(const InitRequest& request, const Context& ctx);

}  // namespace ng::app
