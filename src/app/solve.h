// app/solve.h - where a frame lies on the sky.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/annotation.h"
#include "app/message.h"
#include "app/photometry.h"
#include "base/context.h"
#include "base/result.h"
#include "frame/bayer.h"
#include "frame/wcs.h"
#include "io/overwrite.h"

namespace ng::app {

struct SolveRequest {
  std::filesystem::path file;
  std::optional<double> hint_ra_deg, hint_dec_deg;
  double radius_deg = 2;  // around the hint
  std::optional<double> low_scale_arcsec_px, high_scale_arcsec_px;
  std::optional<double> pixel_size_um;             // over what the file says
  std::vector<std::filesystem::path> catalogues;   // sky files, or folders of them; the built-in one is always there
  std::optional<std::filesystem::path> workspace;  // whose catalogues are used too; default: the nearest upwards
  bool built_in = true;
  bool use_header = true;                        // try where the header says first
  std::optional<BayerPattern> bayer;             // of the mosaic, whatever its file says
  std::optional<std::filesystem::path> write;    // copy with the solution in its header; may be the file itself
  bool annotation = false;                       // objects, grid, scale bar and directions in the reply
  std::optional<std::filesystem::path> overlay;  // PNG or SVG: the frame with all of that drawn on it
  io::Overwrite overwrite = io::Overwrite::kRefuse;
  bool list_stars = false;  // the matched stars in the reply
  bool photometry = true;   // the zero point too, where the frame is solved
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("file", self.file);
    visit("hint_ra_deg", self.hint_ra_deg);
    visit("hint_dec_deg", self.hint_dec_deg);
    visit("radius_deg", self.radius_deg);
    visit("low_scale_arcsec_px", self.low_scale_arcsec_px);
    visit("high_scale_arcsec_px", self.high_scale_arcsec_px);
    visit("pixel_size_um", self.pixel_size_um);
    visit("built_in", self.built_in);
    visit("use_header", self.use_header);
    visit("bayer", self.bayer);
    visit("write", self.write);
    visit("overwrite", self.overwrite);
    visit("list_stars", self.list_stars);
    visit("annotation", self.annotation);
    visit("overlay", self.overlay);
    visit("photometry", self.photometry);
  }
};

struct SolvedStar {
  double x = 0, y = 0;                            // measured, 0-based pixels
  double ra_deg = 0, dec_deg = 0, magnitude = 0;  // of the catalogue, at the time of the frame
  double dx_px = 0, dy_px = 0;                    // measured minus fitted
  bool outlier = false;
  std::optional<double> colour;                         // of the catalogue
  std::optional<double> aperture_flux, aperture_error;  // units of the file; absent: saturated, cut or not measured
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("x", self.x);
    visit("y", self.y);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("magnitude", self.magnitude);
    visit("dx_px", self.dx_px);
    visit("dy_px", self.dy_px);
    visit("outlier", self.outlier);
    visit("colour", self.colour);
    visit("aperture_flux", self.aperture_flux);
    visit("aperture_error", self.aperture_error);
  }
};

// Mean residual of the stars in one part of the frame.
struct ResidualCell {
  double x = 0, y = 0;  // middle of the part, pixels
  int stars = 0;
  double dx_px = 0, dy_px = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("x", self.x);
    visit("y", self.y);
    visit("stars", self.stars);
    visit("dx_px", self.dx_px);
    visit("dy_px", self.dy_px);
  }
};

// Conventions. The centre is the middle of the frame, ICRS. rotation_deg: position angle, from north through east, of
// the top of the picture, its first row being at the top. flipped: that picture shows the sky as in a mirror. Errors
// are one standard deviation.
struct SolveReply {
  std::string path;
  bool solved = false;
  std::string reason;  // why not
  std::optional<double> ra_deg, dec_deg, centre_error_arcsec;
  std::optional<double> scale_arcsec_px, scale_error_arcsec_px;
  std::optional<double> rotation_deg, rotation_error_deg;
  std::optional<bool> flipped;
  std::optional<double> width_deg, height_deg;
  int stars = 0;    // seen
  int matched = 0;  // and found in the catalogue
  std::optional<double> rms_arcsec, rms_px, expected_rms_px;
  std::optional<double> focal_length_mm;  // where the size of a pixel is known
  int distortion_degree = 1;              // 1: none was needed
  std::optional<double> distortion_px;    // largest, at the corners, against the best plane
  std::optional<double> log_odds;         // natural, for the place against chance, all that was tried counted
  std::string catalogue;                  // that the fit used
  std::string band;                       // of its magnitudes; not part of the JSON
  bool blind = false;                     // found without a hint
  double seconds = 0;                     // of solving, after the stars were measured
  Json wcs;                               // cards of a FITS header
  Wcs solution;                           // the same, for other services; not part of the JSON
  std::optional<FramePhotometry> photometry;
  std::optional<FrameAnnotation> annotation;  // where asked for
  std::string written;
  std::string overlay;
  std::vector<ResidualCell> residual_map;
  std::vector<SolvedStar> matched_stars;
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("solved", self.solved);
    visit("reason", self.reason);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("centre_error_arcsec", self.centre_error_arcsec);
    visit("scale_arcsec_px", self.scale_arcsec_px);
    visit("scale_error_arcsec_px", self.scale_error_arcsec_px);
    visit("rotation_deg", self.rotation_deg);
    visit("rotation_error_deg", self.rotation_error_deg);
    visit("flipped", self.flipped);
    visit("width_deg", self.width_deg);
    visit("height_deg", self.height_deg);
    visit("stars", self.stars);
    visit("matched", self.matched);
    visit("rms_arcsec", self.rms_arcsec);
    visit("rms_px", self.rms_px);
    visit("expected_rms_px", self.expected_rms_px);
    visit("focal_length_mm", self.focal_length_mm);
    visit("distortion_degree", self.distortion_degree);
    visit("distortion_px", self.distortion_px);
    visit("log_odds", self.log_odds);
    visit("catalogue", self.catalogue);
    visit("blind", self.blind);
    visit("seconds", self.seconds);
    visit("wcs", self.wcs);
    visit("photometry", self.photometry);
    visit("annotation", self.annotation);
    visit("written", self.written);
    visit("overlay", self.overlay);
    visit("residual_map", self.residual_map);
    visit("matched_stars", self.matched_stars);
    visit("notes", self.notes);
  }
};

// A frame that no place fits is an answer (solved = false, with the reason), not an error. Errors: kInvalidInput (a
// hint that makes no sense), kNotFound (file, or no catalogue at all), kCorrupt, kExists (of the copy), kIo,
// kCancelled.
[[nodiscard]] Result<SolveReply> solve(const SolveRequest& request, const Context& ctx);

}  // namespace ng::app
