#include "app/library_free.h"

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>

#include "app/library_folder.h"
#include "app/library_layout.h"
#include "app/verified_copy.h"
#include "base/stopwatch.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

// By which a file is known to be the one that was read.
struct Identity {
  dev_t device;
  ino_t number;
  off_t bytes;
  std::int64_t changed_s, changed_ns;
  friend bool operator==(const Identity&, const Identity&) = default;
};

std::optional<Identity> identity_of(const fs::path& path) {
  struct stat s {};
  if (::lstat(path.c_str(), &s) != 0 || !S_ISREG(s.st_mode)) return std::nullopt;
  return Identity{s.st_dev, s.st_ino, s.st_size, s.st_mtim.tv_sec, s.st_mtim.tv_nsec};
}

struct Judged {
  std::optional<Identity> identity;
  bool safe = false;
};

void keep(FreedFile& file, const std::string& reason) {
  file.status = "kept";
  file.reason = readable(reason);
}

Result<Judged> judge(const fs::path& from, const LibraryFolder& library, const store::LibraryIndex& index,
                     FreedFile& file, const Context& ctx) {
  Judged judged{identity_of(from), false};
  if (!judged.identity) {
    keep(file, "a link, or gone");
    return judged;
  }
  const auto theirs = hash_file(from, ctx);
  if (!theirs.ok()) {
    if (theirs.error().code() == Code::kCancelled) return theirs.error();
    keep(file, theirs.error().message());
    return judged;
  }
  NG_TRY(const auto known, index.by_hash(*theirs));
  if (!known) {
    keep(file, "the library does not have it");
    return judged;
  }
  const fs::path home = library.frames / known->path;
  file.path = known->path;
  std::error_code error;
  if (fs::equivalent(from, home, error)) {
    keep(file, "it is the library's own file under another name");
    return judged;
  }
  const auto ours = hash_from_disk(home, ctx.serial());
  if (!ours.ok()) {
    if (ours.error().code() == Code::kCancelled) return ours.error();
    keep(file, "the copy cannot be read: " + ours.error().message());
  } else if (*ours != *theirs) {
    keep(file, "the copy has changed: `nightglass ingest` brings this one home beside it");
  } else {
    judged.safe = true;
  }
  return judged;
}

void remove(const fs::path& from, const Judged& judged, FreedFile& file) {
  if (identity_of(from) != judged.identity) {
    keep(file, "it changed while the copies were read");
  } else if (::unlink(from.c_str()) != 0) {
    keep(file, io::system_error("cannot remove " + io::quoted(from), errno).message());
  } else {
    file.status = "removed";
  }
}

}  // namespace

Result<LibraryFreeReply> free_source(const LibraryFreeRequest& request, const Context& ctx) {
  const Stopwatch watch;
  NG_TRY(const LibraryFolder library, find_library(request.workspace));
  std::error_code error;
  if (!fs::is_directory(request.source, error))
    return Error(Code::kNotFound,
                 fmt::format("{}: no such folder, or it cannot be opened", io::quoted(request.source)));
  if (one_inside_other(request.source, library.workspace))
    return Error(Code::kInvalidInput,
                 fmt::format("{}: that is the workspace, or a folder in or around it: its files are "
                             "no card's",
                             io::quoted(request.source)));
  NG_TRY(const io::FileDescriptor lock, lock_library(library));
  NG_TRY(const store::LibraryIndex index, store::LibraryIndex::open(library.index));

  LibraryFreeReply reply;
  const std::vector<fs::path> files = files_below(request.source);
  std::int64_t total = 0;
  for (const fs::path& f : files) total += static_cast<std::int64_t>(fs::file_size(f, error));
  ctx.begin("reading every copy", total);
  std::vector<Judged> judged;
  for (const fs::path& from : files) {
    FreedFile& file = reply.files.emplace_back();
    file.from = readable(from.string());
    NG_TRY(judged.emplace_back(), judge(from, library, index, file, ctx));
    if (!judged.back().safe) continue;
    file.status = "would be removed";
    ++reply.safe;
    reply.safe_bytes += static_cast<std::int64_t>(judged.back().identity->bytes);
  }
  for (std::size_t i = 0; i < files.size(); ++i) {
    if (request.remove && judged[i].safe) remove(files[i], judged[i], reply.files[i]);
    reply.removed += reply.files[i].status == "removed";
    reply.kept += reply.files[i].status == "kept";
  }
  reply.seconds = watch.seconds();
  return reply;
}

}  // namespace ng::app
