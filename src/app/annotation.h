// app/annotation.h - what there is to draw upon a solved frame: objects with outlines, grid, scale bar, north and east.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/result.h"
#include "frame/wcs.h"

namespace ng::app {

// All places are 0-based pixels of the frame, (x, y), y counted from the first row.
using PixelLine = std::vector<std::array<double, 2>>;

struct AnnotatedObject {
  std::string name, kind;
  double ra_deg = 0, dec_deg = 0;
  std::optional<double> magnitude, major_arcmin, minor_arcmin;
  double x = 0, y = 0;
  double radius_px = 0;  // mean of the outline; 0: size unknown
  bool round = true;     // false: longer in a direction that the catalogue does not give; the outline holds it
  PixelLine outline;     // closed
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("kind", self.kind);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("magnitude", self.magnitude);
    visit("major_arcmin", self.major_arcmin);
    visit("minor_arcmin", self.minor_arcmin);
    visit("x", self.x);
    visit("y", self.y);
    visit("radius_px", self.radius_px);
    visit("round", self.round);
    visit("outline", self.outline);
  }
};

struct AnnotatedStar {
  std::string name;  // Bayer letter or Flamsteed number with the constellation: "alpha Ori", "58 Ori"
  double ra_deg = 0, dec_deg = 0, magnitude = 0;
  double x = 0, y = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
    visit("magnitude", self.magnitude);
    visit("x", self.x);
    visit("y", self.y);
  }
};

struct AnnotatedLine {
  std::string coordinate;  // that the line holds: "ra" or "dec"
  double value_deg = 0;
  std::string label;
  std::vector<PixelLine> pieces;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("coordinate", self.coordinate);
    visit("value_deg", self.value_deg);
    visit("label", self.label);
    visit("pieces", self.pieces);
  }
};

struct FrameAnnotation {
  std::vector<AnnotatedObject> objects;  // largest first
  int objects_left_out = 0;              // smaller and fainter ones, beyond the number that a picture bears
  std::vector<AnnotatedStar> stars;      // brightest first; none where the list of names is not there
  std::vector<AnnotatedLine> grid;
  double scale_bar_arcsec = 0, scale_bar_px = 0;
  std::string scale_bar_label;
  std::array<double, 2> north{}, east{};  // unit vectors in the middle of the frame
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("objects", self.objects);
    visit("objects_left_out", self.objects_left_out);
    visit("stars", self.stars);
    visit("grid", self.grid);
    visit("scale_bar_arcsec", self.scale_bar_arcsec);
    visit("scale_bar_px", self.scale_bar_px);
    visit("scale_bar_label", self.scale_bar_label);
    visit("north", self.north);
    visit("east", self.east);
  }
};

// Errors: those of opening the catalogue of objects; kCorrupt (a damaged list of star names).
[[nodiscard]] Result<FrameAnnotation> annotate(const Wcs& wcs, int width, int height);

}  // namespace ng::app
