// app/measure.h - stars and quality of one file.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"
#include "frame/bayer.h"

namespace ng::app {

struct MeasureRequest {
  std::filesystem::path file;
  double threshold = 5.0;             // sigma of the filtered noise
  std::optional<BayerPattern> bayer;  // of the mosaic, whatever its file says
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("file", self.file);
    visit("threshold", self.threshold);
    visit("bayer", self.bayer);
  }
};

struct MeasuredStar {
  double x = 0, y = 0, x_error = 0, y_error = 0;
  double flux = 0, flux_error = 0;
  double fwhm_px = 0, half_flux_radius_px = 0, eccentricity = 0, angle_deg = 0;
  bool saturated = false;
  bool blended = false;
  bool doubtful = false;  // poor fit, bad pixels inside, or cut by the border
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("x", self.x);
    visit("y", self.y);
    visit("x_error", self.x_error);
    visit("y_error", self.y_error);
    visit("flux", self.flux);
    visit("flux_error", self.flux_error);
    visit("fwhm_px", self.fwhm_px);
    visit("half_flux_radius_px", self.half_flux_radius_px);
    visit("eccentricity", self.eccentricity);
    visit("angle_deg", self.angle_deg);
    visit("saturated", self.saturated);
    visit("blended", self.blended);
    visit("doubtful", self.doubtful);
  }
};

// Positions in 0-based pixels. Levels and fluxes in the units of the file.
struct MeasureReply {
  std::string path;
  int width = 0, height = 0;
  double background = 0, noise = 0;
  int good_stars = 0;
  std::optional<double> fwhm_px, half_flux_radius_px, eccentricity;
  std::vector<std::string> notes;
  std::vector<MeasuredStar> stars;  // brightest first
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("width", self.width);
    visit("height", self.height);
    visit("background", self.background);
    visit("noise", self.noise);
    visit("good_stars", self.good_stars);
    visit("fwhm_px", self.fwhm_px);
    visit("half_flux_radius_px", self.half_flux_radius_px);
    visit("eccentricity", self.eccentricity);
    visit("notes", self.notes);
    visit("stars", self.stars);
  }
};

// A frame without stars is an answer, not an error.
[[nodiscard]] Result<MeasureReply> measure(const MeasureRequest& request, const Context& ctx);

}  // namespace ng::app
