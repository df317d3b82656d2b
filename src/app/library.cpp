#include "app/library.h"

#include "app/library_folder.h"
#include "base/stopwatch.h"
#include "store/library_index.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr double kSecondsPerHour = 3600;

LibraryLine line_of(const store::FoundFrame& found) {
  const store::LibraryFrame& f = found.facts;
  return {f.path,
          std::string(to_string(f.kind)),
          f.target,
          f.night,
          f.filter,
          f.camera,
          f.hash,
          f.exposure_s,
          f.gain_setting,
          f.sensor_temperature_c,
          found.measured.stars,
          found.measured.fwhm_px,
          found.measured.worth};
}

}  // namespace

Result<LibraryListReply> list_library(const LibraryListRequest& request, const Context&) {
  NG_TRY(const LibraryFolder library, find_library(request.workspace));
  const Stopwatch watch;
  NG_TRY(const store::LibraryIndex index, store::LibraryIndex::open(library.index));
  NG_TRY(const auto frames,
         index.search_measured({request.target, request.filter, request.kind, request.from_night, request.to_night,
                                request.max_fwhm_px, request.min_stars, request.min_worth}));
  NG_TRY(const auto hours, index.hours());
  LibraryListReply reply;
  reply.seconds = watch.seconds();
  for (const store::FoundFrame& f : frames) reply.frames.push_back(line_of(f));
  for (const store::TargetHours& h : hours)
    reply.hours.push_back({h.target, h.filter, h.frames, h.nights, h.exposure_s / kSecondsPerHour});
  return reply;
}

Result<void> backup_library(const std::optional<fs::path>& workspace, const fs::path& to) {
  NG_TRY(const LibraryFolder library, find_library(workspace));
  NG_TRY(const store::LibraryIndex index, store::LibraryIndex::open(library.index));
  return index.backup(to);
}

}  // namespace ng::app
