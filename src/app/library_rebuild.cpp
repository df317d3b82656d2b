#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "app/library.h"
#include "app/library_folder.h"
#include "app/library_layout.h"
#include "app/library_products.h"
#include "app/sensor_result.h"
#include "app/verified_copy.h"
#include "base/parallel.h"
#include "base/stopwatch.h"
#include "io/open_frame.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

struct Found {
  fs::path file;
  std::optional<store::LibraryFrame> frame;
  std::string reason;
};

Found look(const fs::path& file, const fs::path& frames, const LocalZone& zone, const Context& ctx) {
  Found found{file, std::nullopt, {}};
  const std::string path = file.lexically_relative(frames).generic_string();
  if (readable(path) != path) {
    found.reason = "its name is no UTF-8: rename it";
    return found;
  }
  const auto opened = io::open_frame(file);
  const auto hash = opened.ok() ? hash_file(file, ctx) : Result<std::string>(opened.error());
  std::error_code error;
  const auto bytes = static_cast<std::int64_t>(fs::file_size(file, error));
  if (!hash.ok() || error) {
    found.reason = hash.ok() ? error.message() : hash.error().message();
    return found;
  }
  found.frame = frame_of((*opened)->facts(), bytes, zone);
  found.frame->path = path;
  found.frame->hash = *hash;
  return found;
}

// The old index, moved aside with its log when it cannot be read: nothing is thrown away.
Result<store::LibraryIndex> open_or_move_aside(const fs::path& path, std::string& moved_to) {
  auto index = store::LibraryIndex::open(path);
  if (index.ok() || index.error().code() != Code::kCorrupt) return index;
  std::string aside;
  for (int n = 1; aside.empty() || fs::exists(aside); ++n) aside = fmt::format("{}.damaged-{}", path.string(), n);
  for (const char* part : {"", "-wal", "-shm"}) {
    std::error_code error;
    if (!fs::exists(path.string() + part)) continue;
    fs::rename(path.string() + part, aside + part, error);
    if (error) return io::system_error("cannot move " + io::quoted(path) + " aside", error.value());
  }
  moved_to = aside;
  return store::LibraryIndex::open(path);
}

}  // namespace

Result<LibraryRebuildReply> rebuild_library(const std::optional<fs::path>& workspace, const Context& ctx) {
  const Stopwatch watch;
  NG_TRY(const LibraryFolder library, find_library(workspace));
  NG_TRY(const LocalZone zone, LocalZone::find(library.time_zone));
  NG_TRY(const io::FileDescriptor lock, lock_library(library));
  LibraryRebuildReply reply;
  NG_TRY(store::LibraryIndex index, open_or_move_aside(library.index, reply.damaged_index));
  NG_TRY(const auto before, index.search({}));
  std::map<std::string, std::string> came_home;  // path -> hash
  for (const auto& f : before) came_home[f.path] = f.hash;

  const std::vector<fs::path> files = files_below(library.frames);
  std::vector<Found> found(files.size());
  ctx.begin("reading frames", static_cast<std::int64_t>(files.size()));
  const Context inside = ctx.serial();
  NG_CHECK(parallel_for(ctx, static_cast<int>(files.size()), [&](int i) {
    const auto k = static_cast<std::size_t>(i);
    found[k] = look(files[k], library.frames, zone, inside);
    ctx.advance();
  }));
  if (ctx.cancelled()) return Error(Code::kCancelled, "stopped; the index is as it was");

  std::set<std::string> hashes;
  std::vector<store::LibraryFrame> frames;
  const auto keep = [&](Found& f) {
    if (hashes.insert(f.frame->hash).second) {
      frames.push_back(std::move(*f.frame));
    } else {
      reply.left_out.push_back(f.frame->path + ": the same content as another frame");
    }
  };
  std::vector<Found*> changed;
  for (Found& f : found) {
    if (!f.frame) {
      const std::string path = readable(f.file.lexically_relative(library.frames).generic_string());
      reply.left_out.push_back(path + ": " + readable(f.reason));
      continue;
    }
    const auto old = came_home.find(f.frame->path);
    if (old != came_home.end() && old->second != f.frame->hash) {
      changed.push_back(&f);
    } else {
      keep(f);
    }
  }
  // A file that is not what came home keeps the hash that it should have, unless a whole copy of that was found.
  for (Found* f : changed) {
    reply.changed.push_back(f->frame->path);
    f->frame->hash = came_home.at(f->frame->path);
    keep(*f);
  }
  std::sort(frames.begin(), frames.end(), [](const auto& a, const auto& b) { return a.path < b.path; });
  NG_TRY(FoundProducts masters, find_products(library.workspace, "masters", ctx));
  NG_TRY(FoundProducts pictures, find_products(library.workspace, "pictures", ctx));
  NG_TRY(FoundProducts sensors, find_products(library.workspace, kSensorFolder, ctx));
  masters.products.pictures = std::move(pictures.products.pictures);
  masters.products.sensors = std::move(sensors.products.sensors);
  for (const auto* part : {&masters, &pictures, &sensors})
    reply.left_out.insert(reply.left_out.end(), part->left_out.begin(), part->left_out.end());
  NG_CHECK(index.replace_all(frames, masters.products));
  reply.frames = static_cast<int>(frames.size());
  reply.masters = static_cast<int>(masters.products.masters.size());
  reply.pictures = static_cast<int>(masters.products.pictures.size());
  reply.sensors = static_cast<int>(masters.products.sensors.size());
  reply.seconds = watch.seconds();
  return reply;
}

}  // namespace ng::app
