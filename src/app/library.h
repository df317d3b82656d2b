// app/library.h - what the library holds, whether it is whole, and making its index anew.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"

namespace ng::app {

struct LibraryListRequest {
  std::optional<std::filesystem::path> workspace;
  std::string target, filter, kind;  // empty: any
  std::string from_night, to_night;  // local evening dates, both included; empty: no limit
  // Of frames that a reduction measured. Worth: of the squared signal-to-noise ratio of the best one beside it.
  std::optional<double> max_fwhm_px, min_worth;
  std::optional<int> min_stars;
  std::optional<int> limit;  // so many at most, in order of path
  std::string after;         // that path, where the part before ended
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("target", self.target);
    visit("filter", self.filter);
    visit("kind", self.kind);
    visit("from_night", self.from_night);
    visit("to_night", self.to_night);
    visit("max_fwhm_px", self.max_fwhm_px);
    visit("min_worth", self.min_worth);
    visit("min_stars", self.min_stars);
    visit("limit", self.limit);
    visit("after", self.after);
  }
};
struct LibraryLine {
  std::string path, kind, target, night, filter, camera, hash;
  std::optional<double> exposure_s, gain_setting, sensor_temperature_c;
  std::optional<int> stars;              // measured, as all below; absent: never reduced into masters/
  std::optional<double> fwhm_px, worth;  // the sharpest and the best of its measures and grades
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("kind", self.kind);
    visit("target", self.target);
    visit("night", self.night);
    visit("filter", self.filter);
    visit("camera", self.camera);
    visit("exposure_s", self.exposure_s);
    visit("gain_setting", self.gain_setting);
    visit("sensor_temperature_c", self.sensor_temperature_c);
    visit("stars", self.stars);
    visit("fwhm_px", self.fwhm_px);
    visit("worth", self.worth);
    visit("hash", self.hash);
  }
};
struct LibraryHours {
  std::string target, filter;
  int frames = 0, nights = 0;
  double hours = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("target", self.target);
    visit("filter", self.filter);
    visit("frames", self.frames);
    visit("nights", self.nights);
    visit("hours", self.hours);
  }
};
struct LibraryListReply {
  std::vector<LibraryLine> frames;
  std::vector<LibraryHours> hours;  // of the lights, over the whole library
  int matching = 0;                 // frames that fit, also those that `limit` and `after` leave out
  bool more = false;                // the limit ended the list
  double seconds = 0;               // for opening and searching
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("frames", self.frames);
    visit("hours", self.hours);
    visit("matching", self.matching);
    visit("more", self.more);
    visit("seconds", self.seconds);
  }
};
// Errors: kNotFound (no workspace), kInvalidInput (limit), kCorrupt (damaged index), kIo.
[[nodiscard]] Result<LibraryListReply> list_library(const LibraryListRequest& request, const Context& ctx);

struct LibraryCheckReply {
  int whole = 0;
  std::vector<std::string> changed;  // content differs from what came home
  std::vector<std::string> missing;
  std::vector<std::string> moved;    // found again by content, "old -> new"; the index follows
  std::vector<std::string> unknown;  // below frames/, not of the index
  std::vector<std::string> unreadable;
  int products_whole = 0;                      // masters, calibration masters, pictures, sensor results
  std::vector<std::string> products_damaged;   // "PATH: why": not what was written once, or not there
  std::vector<std::string> products_outdated;  // "PATH: why": whole, but a sharp master of fewer or other lights
  double seconds = 0;
  [[nodiscard]] bool good() const {
    return changed.empty() && missing.empty() && unreadable.empty() && products_damaged.empty();
  }
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("whole", self.whole);
    visit("changed", self.changed);
    visit("missing", self.missing);
    visit("moved", self.moved);
    visit("unknown", self.unknown);
    visit("unreadable", self.unreadable);
    visit("products_whole", self.products_whole);
    visit("products_damaged", self.products_damaged);
    visit("products_outdated", self.products_outdated);
    visit("seconds", self.seconds);
  }
};
// Reads every file again. Errors: kNotFound, kCorrupt (index), kIo, kCancelled.
[[nodiscard]] Result<LibraryCheckReply> check_library(const std::optional<std::filesystem::path>& workspace,
                                                      const Context& ctx);

struct LibraryRebuildReply {
  int frames = 0, masters = 0, pictures = 0, sensors = 0;
  std::vector<std::string> changed;   // content differs from the hash in the old index; that hash is kept
  std::vector<std::string> left_out;  // no frame, or the same content as another; a master without a readable recipe
  std::string damaged_index;          // where the old index went, when it could not be read
  double seconds = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("frames", self.frames);
    visit("masters", self.masters);
    visit("pictures", self.pictures);
    visit("sensors", self.sensors);
    visit("changed", self.changed);
    visit("left_out", self.left_out);
    visit("damaged_index", self.damaged_index);
    visit("seconds", self.seconds);
  }
};
// The index from the files alone, in one transaction: the old one holds until the new one is whole. Errors: as above.
[[nodiscard]] Result<LibraryRebuildReply> rebuild_library(const std::optional<std::filesystem::path>& workspace,
                                                          const Context& ctx);

// A whole copy of the index. Errors: kExists, kNotFound, kCorrupt, kIo.
[[nodiscard]] Result<void> backup_library(const std::optional<std::filesystem::path>& workspace,
                                          const std::filesystem::path& to);

}  // namespace ng::app
