#include "app/ingest.h"

#include <fmt/format.h>

#include "app/folder_walk.h"
#include "app/library_folder.h"
#include "base/parallel.h"
#include "base/stopwatch.h"
#include "io/open_frame.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

// Headers with the time of the zone instead of UTC are up to 14 hours ahead; a day is none of those.
constexpr double kAheadS = 86400;

struct Candidate {
  fs::path from;
  std::optional<Arrival> arrival;  // none: no frame
  Code code = Code::kInvalidInput;
  std::string reason;
};

Result<std::vector<Candidate>> look_at(const IngestRequest& request, const LibraryFolder& library,
                                       const store::LibraryIndex& index, const Context& ctx) {
  NG_TRY(const LocalZone zone, LocalZone::find(library.time_zone));
  std::vector<fs::path> files = files_of_night(request.source, library.frames);
  std::erase_if(files, [](const fs::path& p) { return p.filename().string().starts_with('.'); });
  if (files.empty())
    return Error(Code::kNotFound, fmt::format("{}: no file in it that can be seen", io::quoted(request.source)));
  NG_CHECK(library_path(request.layout, {}, "name"));
  std::vector<Candidate> found(files.size());
  ctx.begin("reading headers", static_cast<std::int64_t>(files.size()));
  NG_CHECK(parallel_for(ctx, static_cast<int>(files.size()), [&](int i) {
    Candidate& c = found[static_cast<std::size_t>(i)];
    c.from = files[static_cast<std::size_t>(i)];
    const auto opened = io::open_frame(c.from);
    std::error_code error;
    const auto bytes = static_cast<std::int64_t>(fs::file_size(c.from, error));
    if (opened.ok() && !error) {
      c.arrival = Arrival{c.from, frame_of((*opened)->facts(), bytes, zone), {}, {}, false};
      c.arrival->wanted = *library_path(request.layout, c.arrival->frame, c.from.filename().string());
    } else if (!opened.ok()) {
      c.code = opened.error().code();
      c.reason = readable(opened.error().message());
    } else {
      c.code = Code::kIo;
      c.reason = error.message();
    }
    ctx.advance();
  }));
  for (Candidate& c : found)
    if (c.arrival) {
      NG_TRY(c.arrival->maybe_there, index.has_like(c.arrival->frame.bytes, c.arrival->frame.start));
    }
  return found;
}

// Adds what became of one file; an error is why the rest is not reached.
Result<void> bring_home(Intake& intake, Candidate& c, bool preview, IngestedFile& file) {
  if (!c.arrival) {
    file.status = c.code == Code::kUnsupported ? "not a frame" : "failed";
    return {};
  }
  if (!preview) return intake.take(*c.arrival, file);
  NG_TRY(const bool nothing_left, intake.settled(*c.arrival, file));
  if (nothing_left) return {};
  file.status = "would be copied";
  file.path = c.arrival->wanted;
  return {};
}

std::string doubt_of(const Candidate& c, Instant now) {
  if (!c.arrival || !c.arrival->frame.start || c.arrival->frame.start->seconds_since(now) <= kAheadS) return {};
  return fmt::format("its header says {}, which is after the clock of this computer ({}): one of the two is wrong",
                     c.arrival->frame.start->iso(), now.iso());
}

void count(IngestReply& reply, const IngestedFile& file, const Candidate& c) {
  reply.copied += file.status == "copied";
  reply.there_already += file.status == "there already";
  reply.not_frames += file.status == "not a frame";
  reply.failed += file.status == "failed";
  reply.not_reached += file.status == "not reached";
  if (file.status == "copied") reply.copied_bytes += c.arrival->frame.bytes;
}

}  // namespace

Result<IngestReply> ingest(const IngestRequest& request, const Context& ctx) {
  const Stopwatch watch;
  NG_TRY(const LibraryFolder library, find_library(request.workspace));
  std::error_code error;
  if (!fs::is_directory(request.source, error))
    return Error(Code::kNotFound, fmt::format("{}: no such folder, or it cannot be opened; name the folder, card or "
                                              "drive with the night's files",
                                              io::quoted(request.source)));
  if (one_inside_other(request.source, library.frames))
    return Error(Code::kInvalidInput, fmt::format("{}: that is the library itself, or a folder around it; "
                                                  "`nightglass library check` finds files that were put there",
                                                  io::quoted(request.source)));
  NG_TRY(const io::FileDescriptor lock, lock_library(library));
  NG_TRY(store::LibraryIndex index, store::LibraryIndex::open(library.index));
  NG_TRY(std::vector<Candidate> candidates, look_at(request, library, index, ctx));
  std::int64_t total = 0, needed = 0;
  for (const Candidate& c : candidates) {
    if (!c.arrival) continue;
    total += c.arrival->frame.bytes;
    if (!c.arrival->maybe_there) needed += c.arrival->frame.bytes;
  }
  if (!request.preview) NG_CHECK(check_room(library.frames, needed));

  IngestReply reply;
  ctx.begin(fmt::format("copying {:.1f} GB", static_cast<double>(total) / 1e9), total);
  Intake intake(library, index, ctx);
  reply.files.resize(candidates.size());
  const auto went_on = [&](const Result<void>& done) {
    if (!done.ok() && reply.ended_early.empty()) reply.ended_early = readable(done.error().message());
  };
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    reply.files[i].from = readable(candidates[i].from.string());
    reply.files[i].reason = candidates[i].reason;
    reply.files[i].doubt = doubt_of(candidates[i], request.at);
    if (reply.ended_early.empty()) went_on(bring_home(intake, candidates[i], request.preview, reply.files[i]));
  }
  went_on(intake.finish());
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    if (reply.files[i].status.empty()) reply.files[i].status = "not reached";
    count(reply, reply.files[i], candidates[i]);
  }
  reply.seconds = watch.seconds();
  return reply;
}

}  // namespace ng::app
