#include "app/library_folder.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>

#include <algorithm>
#include <cerrno>
#include <cmath>

#include "app/library_layout.h"
#include "app/workspace.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr double kHalfDayS = 43200;
constexpr double kSiteGridPerDeg = 1000;        // about 100 m: receivers scatter by some metres from night to night
constexpr std::int64_t kSpareBytes = 64 << 20;  // for the index and what else the disk has to do

template <typename Take>
void walk(const fs::path& folder, Take&& take) {
  std::error_code error;
  for (fs::recursive_directory_iterator it(folder, fs::directory_options::skip_permission_denied, error), end;
       !error && it != end; it.increment(error)) {
    std::error_code ignored;
    if (it->is_regular_file(ignored)) take(it->path());
  }
}

}  // namespace

Result<LibraryFolder> find_library(const std::optional<fs::path>& workspace) {
  NG_TRY(const Workspace w, open_workspace(workspace));
  const LibraryFolder library{w.folder, w.folder / "frames", w.folder / "library.db", w.site.time_zone};
  std::error_code error;
  fs::create_directories(library.frames, error);
  if (error) return io::system_error("cannot make the folder " + io::quoted(library.frames), error.value());
  return library;
}

Result<io::FileDescriptor> lock_library(const LibraryFolder& library) {
  const fs::path name = library.frames / ".lock";
  io::FileDescriptor lock(::open(name.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666));
  if (!lock.open()) return io::system_error("cannot write " + io::quoted(name), errno);
  if (::flock(lock.get(), LOCK_EX | LOCK_NB) != 0)
    return Error(Code::kIo, fmt::format("another nightglass writes into {} now: wait until it is done, then run this "
                                        "again",
                                        io::quoted(library.frames)));
  std::vector<fs::path> left_over;
  walk(library.frames, [&](const fs::path& p) {
    const std::string file = p.filename().string();
    if (file.starts_with('.') && file.ends_with(".part")) left_over.push_back(p);
  });
  for (const fs::path& p : left_over) {
    std::error_code ignored;
    fs::remove(p, ignored);
  }
  return lock;
}

std::vector<fs::path> files_below(const fs::path& folder) {
  std::vector<fs::path> files;
  walk(folder, [&](const fs::path& p) {
    if (!p.filename().string().starts_with('.')) files.push_back(p);
  });
  std::sort(files.begin(), files.end());
  return files;
}

bool one_inside_other(const fs::path& a, const fs::path& b) {
  const fs::path x = fs::weakly_canonical(a), y = fs::weakly_canonical(b);
  const auto at = std::mismatch(x.begin(), x.end(), y.begin(), y.end());
  return at.first == x.end() || at.second == y.end();
}

Result<void> check_room(const fs::path& folder, std::int64_t bytes) {
  const std::int64_t needed = bytes + kSpareBytes;
  std::error_code error;
  const fs::space_info space = fs::space(folder, error);
  if (error || static_cast<std::int64_t>(space.available) >= needed) return {};
  return Error(
      Code::kIo,
      fmt::format("{}: {:.1f} MB are needed and {:.1f} MB are free: make room, then run this again; "
                  "nothing was copied",
                  io::quoted(folder), static_cast<double>(needed) / 1e6, static_cast<double>(space.available) / 1e6));
}

store::LibraryFrame frame_of(const FrameFacts& facts, std::int64_t bytes, const LocalZone& zone) {
  store::LibraryFrame f;
  f.bytes = bytes;
  f.kind = facts.kind;
  if (facts.kind == FrameKind::kLight || facts.kind == FrameKind::kUnknown) f.target = readable(facts.object);
  if (facts.start) f.night = zone.date(facts.start->plus_seconds(-kHalfDayS));
  f.filter = readable(facts.filter);
  f.camera = readable(facts.camera);
  f.width = facts.width;
  f.height = facts.height;
  f.binning_x = facts.binning_x;
  f.binning_y = facts.binning_y;
  f.start = facts.start;
  f.exposure_s = facts.exposure_s;
  f.gain_setting = facts.gain_setting;
  f.offset_setting = facts.offset_setting;
  f.sensor_temperature_c = facts.sensor_temperature_c;
  f.rotation_deg = facts.rotation_deg;
  f.telescope = readable(facts.telescope);
  f.focal_length_mm = facts.focal_length_mm;
  f.pixel_size_um = facts.pixel_size_um;
  if (facts.site_latitude_deg && facts.site_longitude_deg) {
    f.site_latitude_deg = std::round(*facts.site_latitude_deg * kSiteGridPerDeg) / kSiteGridPerDeg;
    f.site_longitude_deg = std::round(*facts.site_longitude_deg * kSiteGridPerDeg) / kSiteGridPerDeg;
  }
  return f;
}

}  // namespace ng::app
