// app/pole.h - where the mount's polar axis points, and which bolt to turn which way.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/instant.h"
#include "base/result.h"

namespace ng::app {

// Thread pitch of a bolt and its distance from the axle that it turns the head about.
struct Bolt {
  double pitch_mm = 0;
  double arm_mm = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("pitch_mm", self.pitch_mm);
    visit("arm_mm", self.arm_mm);
  }
};

// Two frames of one place, minutes apart, while the mount followed it without guiding.
struct PolePair {
  std::filesystem::path first, second;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("first", self.first);
    visit("second", self.second);
  }
};

// A table of a guide star's offsets, with no correction in declination: columns "seconds" and "north_arcsec" (the star
// against the chip, north positive).
struct PoleGuideLog {
  std::filesystem::path file;
  double ra_deg = 0, dec_deg = 0;  // of the star
  Instant begin;                   // of second 0
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("file", self.file);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("begin", self.begin);
  }
};

// Either `files` (the camera turned with the axis), or drifts: pairs and logs, from two places of the sky.
struct PoleRequest {
  std::vector<std::filesystem::path> files;  // between them only the polar axis was turned
  std::vector<PolePair> pairs;
  std::vector<PoleGuideLog> guide_logs;
  std::vector<std::filesystem::path> updates;      // later ones, after the bolts were turned, in order
  std::optional<std::filesystem::path> workspace;  // whose site and catalogues are used; default: the nearest upwards
  std::optional<double> lat_deg, lon_deg, elevation_m;  // default: the site of the workspace, else what the files say
  std::optional<double> pressure_hpa;  // default: the standard atmosphere at that elevation; 0: no refraction
  double temperature_c = 10;
  std::vector<std::filesystem::path> catalogues;
  bool trust_header = false;  // take the solution that a file carries instead of solving
  std::optional<Bolt> altitude_bolt, azimuth_bolt;
  // What is planned: for the choice of the pole, and for how good is good enough.
  std::optional<double> target_ra_deg, target_dec_deg;
  double exposure_s = 300;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("files", self.files);
    visit("pairs", self.pairs);
    visit("guide_logs", self.guide_logs);
    visit("updates", self.updates);
    visit("lat_deg", self.lat_deg);
    visit("lon_deg", self.lon_deg);
    visit("elevation_m", self.elevation_m);
    visit("pressure_hpa", self.pressure_hpa);
    visit("temperature_c", self.temperature_c);
    visit("trust_header", self.trust_header);
    visit("altitude_bolt", self.altitude_bolt);
    visit("azimuth_bolt", self.azimuth_bolt);
    visit("target_ra_deg", self.target_ra_deg);
    visit("target_dec_deg", self.target_dec_deg);
    visit("exposure_s", self.exposure_s);
  }
};

// The axis at one stage, and what is to be done. Corrections are those of the bolts' own scales.
struct PoleState {
  std::string after;  // the file that showed it
  double azimuth_deg = 0, altitude_deg = 0;
  double azimuth_error_arcsec = 0, altitude_error_arcsec = 0;  // one standard deviation
  double move_east_arcmin = 0;                                 // of the axis, by the azimuth bolts; negative: west
  double move_up_arcmin = 0;                                   // by the altitude bolt; negative: down
  double distance_arcmin = 0;                                  // from the goal, on the sky
  double distance_error_arcsec = 0;
  std::optional<double> azimuth_turns, altitude_turns;
  std::vector<std::string> words;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("after", self.after);
    visit("azimuth_deg", self.azimuth_deg);
    visit("altitude_deg", self.altitude_deg);
    visit("azimuth_error_arcsec", self.azimuth_error_arcsec);
    visit("altitude_error_arcsec", self.altitude_error_arcsec);
    visit("move_east_arcmin", self.move_east_arcmin);
    visit("move_up_arcmin", self.move_up_arcmin);
    visit("distance_arcmin", self.distance_arcmin);
    visit("distance_error_arcsec", self.distance_error_arcsec);
    visit("azimuth_turns", self.azimuth_turns);
    visit("altitude_turns", self.altitude_turns);
    visit("words", self.words);
  }
};

// What an axis leaves of the planned target over one exposure without guiding, and how it turns the field.
struct PoleDrift {
  std::string axis;  // "as it is", "at the true pole", "at the pole as seen"
  double north_arcsec = 0, east_arcsec = 0, rotation_arcmin = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("axis", self.axis);
    visit("north_arcsec", self.north_arcsec);
    visit("east_arcsec", self.east_arcsec);
    visit("rotation_arcmin", self.rotation_arcmin);
  }
};

// A drift that was seen, and what it would mean if only one bolt were wrong (of the bolts' own scales, positive: the
// axis stands too far east, too high).
struct PoleSeenDrift {
  std::string from;
  double hour_angle_deg = 0;  // of its middle, west positive
  double minutes = 0;
  double north_arcsec = 0, north_error_arcsec = 0;                  // of the star against the chip, over that time
  double least_arcmin = 0;                                          // the axis is off by this at least
  std::optional<double> azimuth_only_arcmin, altitude_only_arcmin;  // nothing where it would not show here
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("from", self.from);
    visit("hour_angle_deg", self.hour_angle_deg);
    visit("minutes", self.minutes);
    visit("north_arcsec", self.north_arcsec);
    visit("north_error_arcsec", self.north_error_arcsec);
    visit("least_arcmin", self.least_arcmin);
    visit("azimuth_only_arcmin", self.azimuth_only_arcmin);
    visit("altitude_only_arcmin", self.altitude_only_arcmin);
  }
};

struct PoleReply {
  double latitude_deg = 0, longitude_deg = 0, pressure_hpa = 0;
  double turned_deg = 0;         // largest angle between two frames; of drifts: of their hour angles, up to 90
  std::optional<double> misfit;  // of three frames or more, about 1 when only the axis was turned
  double true_pole_altitude_deg = 0, seen_pole_altitude_deg = 0;
  std::string goal;               // "the pole as seen" or "the true pole"
  std::vector<PoleState> states;  // first: now; then after each update; none from one drift alone
  std::vector<PoleSeenDrift> seen_drifts;
  // Half a pixel at the corner by the turn of the field, and half a pixel of drift; nothing where only guide logs are
  // given, which do not know the camera.
  std::optional<double> tolerance_guided_arcmin, tolerance_unguided_arcmin;
  double exposure_s = 0;
  std::vector<PoleDrift> drifts;
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("latitude_deg", self.latitude_deg);
    visit("longitude_deg", self.longitude_deg);
    visit("pressure_hpa", self.pressure_hpa);
    visit("turned_deg", self.turned_deg);
    visit("misfit", self.misfit);
    visit("true_pole_altitude_deg", self.true_pole_altitude_deg);
    visit("seen_pole_altitude_deg", self.seen_pole_altitude_deg);
    visit("goal", self.goal);
    visit("states", self.states);
    visit("seen_drifts", self.seen_drifts);
    visit("tolerance_guided_arcmin", self.tolerance_guided_arcmin);
    visit("tolerance_unguided_arcmin", self.tolerance_unguided_arcmin);
    visit("exposure_s", self.exposure_s);
    visit("drifts", self.drifts);
    visit("notes", self.notes);
  }
};

// Errors: kInvalidInput (site or bolts that make no sense, a file without a time), kTooFew (frames, or turned too
// little), kNoMatch (a frame that is not solved, an update that no bolt explains), and those of solve().
[[nodiscard]] Result<PoleReply> pole(const PoleRequest& request, const Context& ctx);

}  // namespace ng::app
