// app/photometry.h - how much light a solved frame caught: zero point, limit, sky.
#pragma once

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/result.h"
#include "frame/bayer.h"

namespace ng::app {

// catalogue magnitude = zero_point_mag + colour_term (colour - colour_reference) - 2.5 log10(unit per second)
struct FramePhotometry {
  std::string unit;  // "electron", or "adu" where the file does not state the conversion
  std::string band;  // of the catalogue: V, G ...
  double exposure_s = 0;
  double zero_point_mag = 0, zero_point_error_mag = 0;
  double scatter_mag = 0;                                                  // of one star
  std::optional<double> colour_term, colour_term_error, colour_reference;  // B-V or BP-RP of the catalogue
  int stars = 0, outliers = 0;
  double aperture_radius_px = 0, ring_inner_px = 0, ring_outer_px = 0;
  double aperture_correction_mag = 0;  // added for the light beyond the aperture, at most that of the ring
  std::optional<double> limiting_mag;  // point source of 5 sigma, fitted with its profile
  std::optional<double> sky_mag_arcsec2, sky_error_mag_arcsec2;  // where the black level is known
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("unit", self.unit);
    visit("band", self.band);
    visit("exposure_s", self.exposure_s);
    visit("zero_point_mag", self.zero_point_mag);
    visit("zero_point_error_mag", self.zero_point_error_mag);
    visit("scatter_mag", self.scatter_mag);
    visit("colour_term", self.colour_term);
    visit("colour_term_error", self.colour_term_error);
    visit("colour_reference", self.colour_reference);
    visit("stars", self.stars);
    visit("outliers", self.outliers);
    visit("aperture_radius_px", self.aperture_radius_px);
    visit("ring_inner_px", self.ring_inner_px);
    visit("ring_outer_px", self.ring_outer_px);
    visit("aperture_correction_mag", self.aperture_correction_mag);
    visit("limiting_mag", self.limiting_mag);
    visit("sky_mag_arcsec2", self.sky_mag_arcsec2);
    visit("sky_error_mag_arcsec2", self.sky_error_mag_arcsec2);
  }
};

// A catalogue star where the frame shows it.
struct StarOnFrame {
  double x = 0, y = 0;  // 0-based pixels
  double magnitude = 0;
  std::optional<double> colour;
};
struct StarFlux {
  double flux = 0, error = 0;  // of the aperture, in the units of the file
  bool used = false;           // neither saturated nor cut
};
struct PhotometryAnswer {
  std::optional<FramePhotometry> photometry;  // nothing where too few stars could be used
  std::vector<StarFlux> stars;                // in the order given
  std::vector<std::string> notes;             // why not, or what is doubtful
};

// Errors: those of reading the file; kCancelled.
[[nodiscard]] Result<PhotometryAnswer> photometry_of(const std::filesystem::path& file,
                                                     std::optional<BayerPattern> bayer,
                                                     std::span<const StarOnFrame> stars, const std::string& band,
                                                     double scale_arcsec_px, const Context& ctx);

}  // namespace ng::app
