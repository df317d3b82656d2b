#include "app/library.h"

#include "app/library_folder.h"
#include "base/stopwatch.h"
#include "store/library_index.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr double kSecondsPerHour = 3600;
constexpr int kLongestList = 1000000;

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
  if (request.limit && (*request.limit < 1 || *request.limit > kLongestList))
    return Error(Code::kInvalidInput, "the limit of a list must be 1 to 1000000; leave it out for the whole list");
  NG_TRY(const LibraryFolder library, find_library(request.workspace));
  const Stopwatch watch;
  NG_TRY(const store::LibraryIndex index, store::LibraryIndex::open(library.index));
  store::FrameSearch what{request.target,     request.filter,    request.kind,
                          request.from_night, request.to_night,  request.max_fwhm_px,
                          request.min_stars,  request.min_worth, request.after};
  if (request.limit) what.at_most = *request.limit + 1;  // one more tells whether the list ends here
  NG_TRY(auto frames, index.search_measured(what));
  const bool more = what.at_most && static_cast<int>(frames.size()) == *what.at_most;
  if (more) frames.pop_back();
  NG_TRY(const auto hours, index.hours());
  LibraryListReply reply;
  reply.more = more;
  reply.matching = static_cast<int>(frames.size());
  if (request.limit || !request.after.empty()) {
    NG_TRY(reply.matching, index.count(what));
  }
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
