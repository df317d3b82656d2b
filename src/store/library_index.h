// store/library_index.h - library.db: where every frame of the library is, and what its header says.
//
// SQLite with write-ahead log and foreign keys; the tables are described in docs/library.md. The index follows from the
// files alone, but for one thing: the hash that a file had when it came home, by which rot is seen later.
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "frame/facts.h"
#include "store/product_records.h"

namespace ng::store {

struct LibraryFrame {
  std::string path;  // below frames/, with slashes, UTF-8
  std::string hash;  // XXH3-128 of the file, hexadecimal
  std::int64_t bytes = 0;
  std::string target;  // empty: none
  std::string night;   // local evening date "2027-01-05"; empty: the header has no time
  std::string filter;
  std::string camera;
  FrameKind kind = FrameKind::kUnknown;
  int width = 0, height = 0, binning_x = 1, binning_y = 1;
  std::optional<Instant> start;
  std::optional<double> exposure_s, gain_setting, offset_setting, sensor_temperature_c, rotation_deg;
  std::string telescope;
  std::optional<double> focal_length_mm, pixel_size_um;         // of the rig
  std::optional<double> site_latitude_deg, site_longitude_deg;  // to about 100 m; north and east positive

  friend bool operator==(const LibraryFrame&, const LibraryFrame&) = default;
};

inline constexpr const char* kNoTarget = "none";

// Empty texts ask for anything. The target kNoTarget asks for lights, and frames of no kind, that name no target. Dates
// are those of nights, both included.
struct FrameSearch {
  std::string target{}, filter{}, kind{}, from_night{}, to_night{};
  // Of measured frames alone: one measure, and one grade, that fulfils all of these.
  std::optional<double> max_fwhm_px{};
  std::optional<int> min_stars{};
  std::optional<double> min_worth{};
  // A part of the list in its order: what comes after this path, so many at most. count() does without both.
  std::string after_path{};
  std::optional<int> at_most{};
};

// Of a measured light: the newest version of the measures, the sharpest if there are several; and its best grade.
struct FrameSummary {
  std::optional<int> stars;
  std::optional<double> fwhm_px, worth;
};
struct FoundFrame {
  LibraryFrame facts;
  FrameSummary measured;
};

struct TargetHours {
  std::string target, filter;
  int frames = 0, nights = 0;
  double exposure_s = 0;
};

class LibraryIndex {
 public:
  // Makes the file where there is none and brings older tables up to date, all in one transaction. Errors: kCorrupt (no
  // database, or a damaged one), kUnsupported (written by a newer version), kIo.
  [[nodiscard]] static Result<LibraryIndex> open(const std::filesystem::path& path);
  LibraryIndex(LibraryIndex&&) noexcept;
  LibraryIndex& operator=(LibraryIndex&&) noexcept;
  ~LibraryIndex();

  // Errors of all: kIo, as the database says it. Of two frames with one path or one hash add() takes the first only,
  // with kExists.
  [[nodiscard]] Result<void> add(const LibraryFrame& frame);
  // All, or nothing.
  [[nodiscard]] Result<void> replace_all(const std::vector<LibraryFrame>& frames, const Products& products);
  // Masters, pictures and sensor results, in place of those of the same paths.
  [[nodiscard]] Result<void> enter(const Products& products);
  [[nodiscard]] Result<void> move(const std::string& hash, const std::string& path);
  // Several at once, all or nothing; frames may exchange their paths. Errors also: kExists (another frame has one).
  [[nodiscard]] Result<void> move_all(const std::map<std::string, std::string>& path_by_hash);
  [[nodiscard]] Result<std::optional<LibraryFrame>> by_hash(const std::string& hash) const;
  [[nodiscard]] Result<std::optional<LibraryFrame>> by_path(const std::string& path) const;
  // Whether a frame of this length that began at this moment is there: perhaps the same one.
  [[nodiscard]] Result<bool> has_like(std::int64_t bytes, std::optional<Instant> start) const;
  [[nodiscard]] Result<std::vector<LibraryFrame>> search(const FrameSearch& what) const;  // in order of path
  [[nodiscard]] Result<std::vector<FoundFrame>> search_measured(const FrameSearch& what) const;
  [[nodiscard]] Result<int> count(const FrameSearch& what) const;
  // Files below the workspace with measures of frames that fit.
  [[nodiscard]] Result<std::vector<std::string>> measure_files(const FrameSearch& what) const;
  [[nodiscard]] Result<std::vector<TargetHours>> hours() const;                            // lights alone
  [[nodiscard]] Result<std::vector<CalibrationMasterRecord>> calibration_masters() const;  // in order of path
  [[nodiscard]] Result<std::vector<ProductFile>> product_files() const;    // of all kinds, in order of path
  [[nodiscard]] Result<std::vector<SensorRecord>> sensor_results() const;  // in order of path
  // A whole copy, made while others may write. Errors: kExists, kIo.
  [[nodiscard]] Result<void> backup(const std::filesystem::path& path) const;

 private:
  struct Open;
  explicit LibraryIndex(std::unique_ptr<Open> open);
  std::unique_ptr<Open> open_;
};

}  // namespace ng::store
