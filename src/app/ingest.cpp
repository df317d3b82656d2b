#include "app/ingest.h"

#include <fmt/format.h>

#include <algorithm>

#include "app/library_folder.h"
#include "app/verified_copy.h"
#include "base/parallel.h"
#include "base/stopwatch.h"
#include "io/open_frame.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr std::int64_t kSpareBytes = 64 << 20;  // for the index and what else the disk has to do
constexpr int kMostOfOneName = 100000;

struct Candidate {
  fs::path from;
  std::optional<store::LibraryFrame> frame;  // none: no frame
  std::string wanted;                        // path below frames/
  Code code = Code::kInvalidInput;
  std::string reason;
  bool maybe_there = false;
};

bool one_inside_other(const fs::path& a, const fs::path& b) {
  const fs::path x = fs::weakly_canonical(a), y = fs::weakly_canonical(b);
  const auto at = std::mismatch(x.begin(), x.end(), y.begin(), y.end());
  return at.first == x.end() || at.second == y.end();
}

Result<std::vector<Candidate>> look_at(const IngestRequest& request, const LibraryFolder& library,
                                       const store::LibraryIndex& index, const Context& ctx) {
  NG_TRY(const LocalZone zone, LocalZone::find(library.time_zone));
  const std::vector<fs::path> files = files_below(request.source);
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
      c.frame = frame_of((*opened)->facts(), bytes, zone);
      c.wanted = *library_path(request.layout, *c.frame, c.from.filename().string());
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
    if (c.frame) {
      NG_TRY(c.maybe_there, index.has_like(c.frame->bytes, c.frame->start));
    }
  return found;
}

Result<void> check_room(const std::vector<Candidate>& candidates, const fs::path& frames) {
  std::int64_t needed = kSpareBytes;
  for (const Candidate& c : candidates)
    if (c.frame && !c.maybe_there) needed += c.frame->bytes;
  std::error_code error;
  const fs::space_info space = fs::space(frames, error);
  if (error || static_cast<std::int64_t>(space.available) >= needed) return {};
  return Error(
      Code::kIo,
      fmt::format("{}: {:.1f} MB are needed and {:.1f} MB are free: make room, then run this again; "
                  "nothing was copied",
                  io::quoted(frames), static_cast<double>(needed) / 1e6, static_cast<double>(space.available) / 1e6));
}

class Ingest {
 public:
  Ingest(const LibraryFolder& library, store::LibraryIndex& index, const Context& ctx)
      : library_(library), index_(index), ctx_(ctx) {}

  // Whether nothing is left to do for a file: the library has it, or it cannot be read; then path and status say so.
  Result<bool> settled(const Candidate& c, IngestedFile& file) {
    if (!c.maybe_there) return false;
    Context silent = ctx_;
    silent.progress = nullptr;
    const auto hash = hash_file(c.from, silent);
    if (hash.ok()) return is_there(*hash, file);
    NG_CHECK(source_failed(hash.error(), file));
    return true;
  }

  // Fills path and status. Errors end the whole: those of the library's own disk. Those of the source stay in `file`.
  Result<void> take(Candidate& c, IngestedFile& file) {
    store::LibraryFrame& frame = *c.frame;
    NG_TRY(const bool nothing_left, settled(c, file));
    if (nothing_left) {
      ctx_.advance(frame.bytes);
      return {};
    }
    for (int n = 1; n < kMostOfOneName; ++n) {
      frame.path = n == 1 ? c.wanted : numbered(c.wanted, n);
      const fs::path to = library_.frames / frame.path;
      std::error_code error;
      if (fs::exists(fs::symlink_status(to, error))) {
        NG_TRY(const bool adopted, adopt(c, to, file));
        if (adopted) return {};
        continue;
      }
      fs::create_directories(to.parent_path(), error);
      if (error) return io::system_error("cannot make the folder " + io::quoted(to.parent_path()), error.value());
      return copy(c, to, file);
    }
    return Error(Code::kExists, fmt::format("{}: too many files of this name", io::quoted(library_.frames / c.wanted)));
  }

 private:
  Result<void> source_failed(const Error& error, IngestedFile& file) {
    if (error.code() == Code::kCancelled) return error;
    file.status = "failed";
    file.reason = readable(error.message());
    return {};
  }

  Result<bool> is_there(const std::string& hash, IngestedFile& file) {
    NG_TRY(const auto known, index_.by_hash(hash));
    if (!known) return false;
    // "There already" lets a person wipe the card: the library's own copy is read before it is said. Where it is gone
    // or has rotted, the file is copied again, beside what is left of it.
    Context silent = ctx_;
    silent.progress = nullptr;
    const auto ours = hash_file(library_.frames / known->path, silent);
    if (!ours.ok() && ours.error().code() == Code::kCancelled) return ours.error();
    if (!ours.ok() || *ours != hash) return false;
    file.status = "there already";
    file.path = known->path;
    return true;
  }

  // A file of that name lies there: perhaps copied just before the program was killed, and not entered.
  Result<bool> adopt(Candidate& c, const fs::path& to, IngestedFile& file) {
    std::error_code error;
    if (!fs::is_regular_file(to, error) || static_cast<std::int64_t>(fs::file_size(to, error)) != c.frame->bytes)
      return false;
    Context silent = ctx_;
    silent.progress = nullptr;
    const auto ours = hash_file(to, silent), theirs = hash_file(c.from, silent);
    if (!ours.ok() || !theirs.ok() || *ours != *theirs) return false;
    c.frame->hash = *ours;
    NG_CHECK(enter(*c.frame));
    file.status = "there already";
    file.path = c.frame->path;
    ctx_.advance(c.frame->bytes);
    return true;
  }

  Result<void> copy(Candidate& c, const fs::path& to, IngestedFile& file) {
    NG_TRY(VerifiedCopy made, copy_verified(c.from, to, ctx_));
    if (!made.file) {
      file.status = "failed";
      file.reason = readable(made.unreadable);
      return {};
    }
    NG_TRY(const bool there, is_there(made.hash, file));
    if (there) return {};
    NG_CHECK(made.file->commit());
    c.frame->hash = made.hash;
    NG_CHECK(enter(*c.frame));
    file.status = "copied";
    file.path = c.frame->path;
    return {};
  }

  Result<void> enter(const store::LibraryFrame& frame) {
    NG_TRY(const auto known, index_.by_hash(frame.hash));
    return known ? index_.move(frame.hash, frame.path) : index_.add(frame);
  }

  const LibraryFolder& library_;
  store::LibraryIndex& index_;
  const Context& ctx_;
};

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
  if (!request.preview) NG_CHECK(check_room(candidates, library.frames));

  IngestReply reply;
  std::int64_t total = 0;
  for (const Candidate& c : candidates) total += c.frame ? c.frame->bytes : 0;
  ctx.begin(fmt::format("copying {:.1f} GB", static_cast<double>(total) / 1e9), total);
  Ingest work(library, index, ctx);
  for (Candidate& c : candidates) {
    IngestedFile& file = reply.files.emplace_back();
    file.from = readable(c.from.string());
    file.reason = c.reason;
    if (!c.frame) {
      file.status = c.code == Code::kUnsupported ? "not a frame" : "failed";
    } else if (request.preview) {
      NG_TRY(const bool nothing_left, work.settled(c, file));
      if (!nothing_left) {
        file.status = "would be copied";
        file.path = c.wanted;
      }
    } else {
      NG_CHECK(work.take(c, file));
    }
    reply.copied += file.status == "copied";
    reply.there_already += file.status == "there already";
    reply.not_frames += file.status == "not a frame";
    reply.failed += file.status == "failed";
    if (file.status == "copied") reply.copied_bytes += c.frame->bytes;
  }
  reply.seconds = watch.seconds();
  return reply;
}

}  // namespace ng::app
