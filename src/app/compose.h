// app/compose.h - how a target lies in the field: one frame or panels, what is bright in it, and a chart.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/instant.h"
#include "base/result.h"
#include "io/overwrite.h"

namespace ng::app {

struct ComposeRequest {
  std::optional<std::filesystem::path> workspace;
  std::string target;                                       // its name, or
  std::optional<double> ra_deg, dec_deg;                    // its place, ICRS
  std::optional<double> field_width_deg, field_height_deg;  // both, instead of the rig's
  double position_angle_deg = 0;                            // of the picture's upper side, from north through east
  double shift_right_percent = 0, shift_up_percent = 0;     // of the field: the target's centre leaves the middle
  int across = 0, up = 0;                                   // panels; 0: as many as the object needs
  double overlap = 0.15;
  Instant at;                   // when it is to be photographed: a target near the Sun is refused
  std::filesystem::path chart;  // .png or .svg; empty: none
  io::Overwrite overwrite = io::Overwrite::kRefuse;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("target", self.target);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("field_width_deg", self.field_width_deg);
    visit("field_height_deg", self.field_height_deg);
    visit("position_angle_deg", self.position_angle_deg);
    visit("shift_right_percent", self.shift_right_percent);
    visit("shift_up_percent", self.shift_up_percent);
    visit("across", self.across);
    visit("up", self.up);
    visit("overlap", self.overlap);
    visit("at", self.at);
  }
};

struct ComposePanel {
  int number = 0, column = 0, row = 0;
  double ra_deg = 0, dec_deg = 0, position_angle_deg = 0;
  std::vector<std::vector<double>> corners_deg;  // RA, Dec: upper left, upper right, lower right, lower left
  int stars = 0;                                 // of the catalogue, to V 10: to guide and to solve by
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("number", self.number);
    visit("column", self.column);
    visit("row", self.row);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("position_angle_deg", self.position_angle_deg);
    visit("corners_deg", self.corners_deg);
    visit("stars", self.stars);
  }
};

struct ComposeStar {
  double v_mag = 0, ra_deg = 0, dec_deg = 0, distance_deg = 0;  // from the centre of the whole
  bool inside = false;                                          // a panel; else beside them
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("v_mag", self.v_mag);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("distance_deg", self.distance_deg);
    visit("inside", self.inside);
  }
};

struct ComposeNeighbour {
  std::string title, kind;
  double size_arcmin = 0;
  std::optional<double> magnitude;
  double ra_deg = 0, dec_deg = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("title", self.title);
    visit("kind", self.kind);
    visit("size_arcmin", self.size_arcmin);
    visit("magnitude", self.magnitude);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
  }
};

struct ComposeReply {
  std::string target, whereabouts;
  double ra_deg = 0, dec_deg = 0;
  std::optional<double> size_arcmin;
  double field_width_deg = 0, field_height_deg = 0, position_angle_deg = 0, overlap = 0;
  int across = 1, up = 1;
  std::vector<ComposePanel> panels;          // in the order in which they culminate
  std::vector<ComposeStar> bright_stars;     // that may throw reflections and halos; brightest first
  std::vector<ComposeNeighbour> neighbours;  // other objects within the panels, brightest first
  std::string chart;
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("target", self.target);
    visit("whereabouts", self.whereabouts);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("size_arcmin", self.size_arcmin);
    visit("field_width_deg", self.field_width_deg);
    visit("field_height_deg", self.field_height_deg);
    visit("position_angle_deg", self.position_angle_deg);
    visit("overlap", self.overlap);
    visit("across", self.across);
    visit("up", self.up);
    visit("panels", self.panels);
    visit("bright_stars", self.bright_stars);
    visit("neighbours", self.neighbours);
    visit("chart", self.chart);
    visit("notes", self.notes);
  }
};

// Errors: kNotFound (name, workspace when no field is given), kInvalidInput (a field, an overlap, panels that make no
// sense, a target within 30 degrees of the Sun), kExists (the chart), and those of writing it.
[[nodiscard]] Result<ComposeReply> compose(const ComposeRequest& request, const Context& ctx);

}  // namespace ng::app
