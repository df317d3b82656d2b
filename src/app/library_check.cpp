#include <map>
#include <set>

#include "app/library.h"
#include "app/library_folder.h"
#include "app/library_layout.h"
#include "app/verified_copy.h"
#include "base/stopwatch.h"

namespace ng::app {
namespace {
namespace fs = std::filesystem;
}

Result<LibraryCheckReply> check_library(const std::optional<fs::path>& workspace, const Context& ctx) {
  const Stopwatch watch;
  NG_TRY(const LibraryFolder library, find_library(workspace));
  NG_TRY(const io::FileDescriptor lock, lock_library(library));
  NG_TRY(store::LibraryIndex index, store::LibraryIndex::open(library.index));
  NG_TRY(const auto frames, index.search({}));
  LibraryCheckReply reply;
  std::int64_t total = 0;
  for (const auto& f : frames) total += f.bytes;
  ctx.begin("reading every frame", total);

  std::set<std::string> known;
  std::map<std::string, std::string> missing;  // hash -> path
  for (const store::LibraryFrame& f : frames) {
    known.insert(f.path);
    const auto hash = hash_file(library.frames / f.path, ctx);
    if (hash.ok()) {
      if (*hash == f.hash)
        ++reply.whole;
      else
        reply.changed.push_back(f.path);
    } else if (hash.error().code() == Code::kCancelled) {
      return hash.error();
    } else if (hash.error().code() == Code::kNotFound) {
      missing[f.hash] = f.path;
    } else {
      reply.unreadable.push_back(f.path + ": " + hash.error().message());
    }
  }
  for (const fs::path& file : files_below(library.frames)) {
    const std::string path = file.lexically_relative(library.frames).generic_string();
    if (known.contains(path)) continue;
    const auto hash = hash_file(file, ctx);
    if (!hash.ok()) {
      if (hash.error().code() == Code::kCancelled) return hash.error();
      reply.unreadable.push_back(readable(path + ": " + hash.error().message()));
      continue;
    }
    const auto found = missing.find(*hash);
    if (found == missing.end() || readable(path) != path) {
      reply.unknown.push_back(readable(path));
      continue;
    }
    NG_CHECK(index.move(*hash, path));
    reply.moved.push_back(found->second + " -> " + path);
    missing.erase(found);
    ++reply.whole;
  }
  for (const auto& [hash, path] : missing) reply.missing.push_back(path);
  reply.seconds = watch.seconds();
  return reply;
}

}  // namespace ng::app
