// app/workspace_view.h - what a workspace holds, for someone who looks at it: site, rig, masters, pictures.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

struct WorkspaceRequest {
  std::optional<std::filesystem::path> workspace;
  template <typename Self, typename Visitor>
  static void fields(Self&, Visitor&&) {}
};

struct WorkspaceFilter {
  std::string name;
  double centre_nm = 0, width_nm = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("centre_nm", self.centre_nm);
    visit("width_nm", self.width_nm);
  }
};

// A file below the workspace that can be looked at; `path` is relative to the workspace.
struct WorkspaceFile {
  std::string path, object, filter;
  int width = 0, height = 0, planes = 0;
  std::optional<double> exposure_s;
  std::string changed;  // UTC
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("object", self.object);
    visit("filter", self.filter);
    visit("width", self.width);
    visit("height", self.height);
    visit("planes", self.planes);
    visit("exposure_s", self.exposure_s);
    visit("changed", self.changed);
  }
};

// A folder of frames that `reduce` can take.
struct WorkspaceNight {
  std::string path;
  int files = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("files", self.files);
  }
};

struct WorkspaceReply {
  std::string folder;  // its name alone
  std::string site, time_zone;
  double latitude_deg = 0, longitude_deg = 0, elevation_m = 0, sky_mag_arcsec2 = 0, seeing_fwhm_arcsec = 0;
  std::string rig;
  double aperture_mm = 0, focal_length_mm = 0, f_ratio = 0, scale_arcsec_px = 0;
  double field_width_deg = 0, field_height_deg = 0;
  int width_px = 0, height_px = 0;
  double pixel_um = 0;
  double lowest_altitude_deg = 0;
  std::vector<double> limit_deg;  // lowest altitude at azimuth 0, 5, 10 ... 355: horizon and the person's own limit
  std::vector<WorkspaceFilter> filters;
  std::vector<WorkspaceNight> nights;
  std::vector<WorkspaceFile> masters;
  std::vector<std::string> pictures;
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("folder", self.folder);
    visit("site", self.site);
    visit("time_zone", self.time_zone);
    visit("latitude_deg", self.latitude_deg);
    visit("longitude_deg", self.longitude_deg);
    visit("elevation_m", self.elevation_m);
    visit("sky_mag_arcsec2", self.sky_mag_arcsec2);
    visit("seeing_fwhm_arcsec", self.seeing_fwhm_arcsec);
    visit("rig", self.rig);
    visit("aperture_mm", self.aperture_mm);
    visit("focal_length_mm", self.focal_length_mm);
    visit("f_ratio", self.f_ratio);
    visit("scale_arcsec_px", self.scale_arcsec_px);
    visit("field_width_deg", self.field_width_deg);
    visit("field_height_deg", self.field_height_deg);
    visit("width_px", self.width_px);
    visit("height_px", self.height_px);
    visit("pixel_um", self.pixel_um);
    visit("lowest_altitude_deg", self.lowest_altitude_deg);
    visit("limit_deg", self.limit_deg);
    visit("filters", self.filters);
    visit("nights", self.nights);
    visit("masters", self.masters);
    visit("pictures", self.pictures);
    visit("notes", self.notes);
  }
};

// Errors: those of open_workspace(). Files that cannot be read are left out.
[[nodiscard]] Result<WorkspaceReply> view_workspace(const WorkspaceRequest& request, const Context& ctx);

}  // namespace ng::app
