// app/reduce.h - frames to masters: sort, match, calibrate, measure, register, integrate, write.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/drizzle_plan.h"
#include "base/context.h"
#include "base/result.h"
#include "frame/bayer.h"
#include "io/overwrite.h"
#include "reduce/stack/weights.h"

namespace ng::app {

// What the masters show of the sky.
enum class Extent : std::uint8_t {
  kAuto,       // one frame's field, or all of it where lights form panels of a mosaic
  kReference,  // the field of the reference frame
  kAll,        // whatever any light shows
};
[[nodiscard]] std::string to_string(Extent extent);  // "auto", "reference", "all"

struct ReduceRequest {
  std::filesystem::path folder;
  std::string target;  // in place of a folder: its lights of all nights in the library, and their calibration
  std::optional<std::filesystem::path> workspace;  // of the library; none: the nearest upwards
  std::filesystem::path out;                       // folder of the masters; made when missing
  std::optional<BayerPattern> bayer;               // of all mosaic frames, whatever their files say
  double kappa = 4.5;                              // rejection limit, in predicted standard deviations
  double exposure_tolerance = 0.02;                // of darks, relative
  double temperature_tolerance_c = 2.0;            // of darks and bias
  double rotation_tolerance_deg = 1.0;             // of flats
  double max_fwhm_ratio = 2.0;                     // frames wider than this times the median are left out
  reduce::Aim aim = reduce::Aim::kExtended;        // what the weights make deepest
  double min_weight = 0.03;                        // frames worth less than this times the best are left out
  // To the masters in `out`: their own frames, found by their recipes, and those of `folder` become new masters that
  // replace them, the same as if all had been reduced at once.
  bool add = false;
  DrizzleRequest drizzle;
  bool sharp = false;  // a properly coadded master too
  Extent extent = Extent::kAuto;
  bool solve = true;                              // look for where the masters lie on the sky, and write it into them
  std::vector<std::filesystem::path> catalogues;  // for that: beside the built-in one and those of the workspace
  io::Overwrite overwrite = io::Overwrite::kRefuse;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("folder", self.folder);
    visit("target", self.target);
    visit("out", self.out);
    visit("bayer", self.bayer);
    visit("reject_sigma", self.kappa);
    visit("dark_exposure_share", self.exposure_tolerance);
    visit("dark_temperature_c", self.temperature_tolerance_c);
    visit("flat_rotation_deg", self.rotation_tolerance_deg);
    visit("max_fwhm_ratio", self.max_fwhm_ratio);
    visit("weights_for", self.aim);
    visit("min_weight", self.min_weight);
    visit("add", self.add);
    visit("drizzle", self.drizzle.choice);
    visit("pixfrac", self.drizzle.pixfrac);
    visit("scale", self.drizzle.scale);
    visit("sharp", self.sharp);
    visit("extent", self.extent);
    visit("overwrite", self.overwrite);
  }
};

// The mean of the first frames of the night, in the order of their files.
struct ReduceNoise {
  int frames = 0;
  double noise_e = 0;            // from the differences between frames: stars and nebulae do not count
  double predicted_noise_e = 0;  // from the model
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("frames", self.frames);
    visit("noise_e", self.noise_e);
    visit("predicted_noise_e", self.predicted_noise_e);
  }
};

// The properly coadded master beside the ordinary one.
struct SharpMaster {
  std::string path;
  double fwhm_px = 0;         // of its profile, pixel included
  double noise_area_px = 0;   // noise-equivalent area of its profile
  double noise_e = 0;         // of one pixel on bare sky, white, as predicted
  double rejected_share = 0;  // of all values offered
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("fwhm_px", self.fwhm_px);
    visit("noise_area_px", self.noise_area_px);
    visit("noise_e", self.noise_e);
    visit("rejected_share", self.rejected_share);
  }
};

// Where a master lies on the sky, as its header has it in full (WCS). Conventions of SolveReply (solve.h).
struct MasterSolution {
  double ra_deg = 0, dec_deg = 0, centre_error_arcsec = 0;
  double scale_arcsec_px = 0;
  double rotation_deg = 0;
  bool flipped = false;
  int matched = 0;  // stars found in the catalogue
  double rms_arcsec = 0;
  std::optional<double> focal_length_mm;
  int distortion_degree = 1;
  std::string catalogue;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("centre_error_arcsec", self.centre_error_arcsec);
    visit("scale_arcsec_px", self.scale_arcsec_px);
    visit("rotation_deg", self.rotation_deg);
    visit("flipped", self.flipped);
    visit("matched", self.matched);
    visit("rms_arcsec", self.rms_arcsec);
    visit("focal_length_mm", self.focal_length_mm);
    visit("distortion_degree", self.distortion_degree);
    visit("catalogue", self.catalogue);
  }
};

// Bouguer's law through the lights of a master; frames behind clouds are outliers.
struct NightExtinction {
  double mag_airmass = 0, error_mag_airmass = 0;
  double scatter_mag = 0;
  int frames = 0, outliers = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("mag_airmass", self.mag_airmass);
    visit("error_mag_airmass", self.error_mag_airmass);
    visit("scatter_mag", self.scatter_mag);
    visit("frames", self.frames);
    visit("outliers", self.outliers);
  }
};

struct ReduceMaster {
  std::string path;
  std::string filter;
  int frames_used = 0;
  double equivalent_min = 0;  // what all frames together were worth, in minutes of the best one
  double exposure_s = 0;      // sum over the frames used
  double fwhm_px = 0;
  double noise_e = 0;            // measured, one pixel on bare sky: the last of the curve, or from the picture
  double predicted_noise_e = 0;  // from the model, the same
  // Noise of a wide area's sum over that of independent pixels of noise_e: resampling makes neighbours alike.
  std::optional<double> noise_correlation;
  double rejected_share = 0;  // of all values offered
  double background_e = 0;
  std::vector<ReduceNoise> noise_curve;
  std::string frames_sheet;  // picture of all frames with their grades, and of the noise curve
  std::string unit;          // "electron", or "adu" where no file states the conversion
  // Only of drizzled masters: side of the drops in pixels of the frame, of the master's pixels in pixels of the
  // reference, scatter of the weights between pixels, as a share.
  std::optional<double> pixfrac, scale, unevenness;
  std::optional<MasterSolution> solution;     // absent: not looked for, or not found (then a note says why)
  std::optional<NightExtinction> extinction;  // absent: too few frames, or too little of the airmass
  std::vector<std::string> flags;
  std::optional<SharpMaster> sharp;  // where asked for
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("filter", self.filter);
    visit("frames_used", self.frames_used);
    visit("exposure_s", self.exposure_s);
    visit("equivalent_min", self.equivalent_min);
    visit("fwhm_px", self.fwhm_px);
    visit("noise_e", self.noise_e);
    visit("predicted_noise_e", self.predicted_noise_e);
    visit("noise_correlation", self.noise_correlation);
    visit("rejected_share", self.rejected_share);
    visit("background_e", self.background_e);
    visit("noise_curve", self.noise_curve);
    visit("frames_sheet", self.frames_sheet);
    visit("unit", self.unit);
    visit("pixfrac", self.pixfrac);
    visit("scale", self.scale);
    visit("unevenness", self.unevenness);
    visit("solution", self.solution);
    visit("extinction", self.extinction);
    visit("flags", self.flags);
    visit("sharp", self.sharp);
  }
};

// One line per file; lights carry their measures, the others only kind and verdict.
struct ReduceFrame {
  std::string path;
  std::string kind;
  bool accepted = false;
  std::string reason;
  std::string filter;
  std::string start;         // UTC, as the header states it; empty where it does not
  std::optional<int> stars;  // fitted; of many only the brightest are
  std::optional<double> fwhm_px, half_flux_radius_px, eccentricity, background_e, noise_e;
  std::optional<double> transmission;              // relative to the reference of its filter
  std::optional<double> transparency;              // of the air, per second, relative to the best of its filter
  std::optional<double> airmass, exposure_s;       // as the header states them
  std::optional<double> weight;                    // relative to the best of its filter
  std::optional<double> equivalent_min;            // minutes of the best frame that it was worth
  std::optional<std::array<double, 6>> transform;  // 0-based frame pixels -> master pixels, at the frame's centre
  std::optional<double> residual_px;
  std::optional<int> trails;  // of satellites, left out with all their width
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("kind", self.kind);
    visit("accepted", self.accepted);
    visit("reason", self.reason);
    visit("filter", self.filter);
    visit("start", self.start);
    visit("stars", self.stars);
    visit("fwhm_px", self.fwhm_px);
    visit("half_flux_radius_px", self.half_flux_radius_px);
    visit("eccentricity", self.eccentricity);
    visit("background_e", self.background_e);
    visit("noise_e", self.noise_e);
    visit("transmission", self.transmission);
    visit("transparency", self.transparency);
    visit("airmass", self.airmass);
    visit("exposure_s", self.exposure_s);
    visit("weight", self.weight);
    visit("equivalent_min", self.equivalent_min);
    visit("transform", self.transform);
    visit("residual_px", self.residual_px);
    visit("trails", self.trails);
  }
};

// Where the time went.
struct ReduceStage {
  std::string name;
  double seconds = 0;
  double processor_seconds = 0;  // of the whole program meanwhile
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("seconds", self.seconds);
    visit("processor_seconds", self.processor_seconds);
  }
};

struct ReduceReply {
  std::vector<ReduceMaster> masters;
  std::vector<ReduceFrame> frames;
  std::vector<std::string> notes;   // what was missing, assumed or doubtful, and what it costs
  std::string reference;            // the frame whose grid the masters have
  int measures_kept = 0;            // lights that an earlier reduction measured in the same way
  int masters_kept = 0;             // of darks, bias, flats and dark-flats that an earlier reduction made of the same
  std::vector<ReduceStage> stages;  // in the order of the work
  double seconds = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("masters", self.masters);
    visit("frames", self.frames);
    visit("notes", self.notes);
    visit("reference", self.reference);
    visit("measures_kept", self.measures_kept);
    visit("masters_kept", self.masters_kept);
    visit("stages", self.stages);
    visit("seconds", self.seconds);
  }
};

// Errors: kNotFound (no folder, no frames, no lights; with `add` no master or a frame that is gone), kCorrupt (with
// `add`), kTooFew, kNoMatch (nothing could be registered), kExists, kIo, kCancelled. Masters that were complete before
// a failure stay; nothing half-made does.
[[nodiscard]] Result<ReduceReply> reduce(const ReduceRequest& request, const Context& ctx);

}  // namespace ng::app
