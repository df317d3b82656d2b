#include <map>
#include <set>

#include "app/library.h"
#include "app/library_folder.h"
#include "app/library_layout.h"
#include "app/outdated_sharp.h"
#include "app/sensor_result.h"
#include "app/verified_copy.h"
#include "base/stopwatch.h"

namespace ng::app {
namespace {
namespace fs = std::filesystem;

// Masters, pictures, sensor results: there, and as they were written. One that was moved is found by its content.
Result<void> check_products(const LibraryFolder& library, const std::vector<store::ProductFile>& products,
                            LibraryCheckReply& reply, const Context& ctx) {
  std::vector<store::ProductFile> gone;
  for (const store::ProductFile& p : products) {
    const fs::path file = library.workspace / p.path;
    std::error_code ignored;
    if (!fs::is_regular_file(file, ignored)) {
      gone.push_back(p);
      continue;
    }
    const auto hash = hash_file(file, ctx);
    if (hash.ok() && *hash == p.hash)
      ++reply.products_whole;
    else if (hash.ok())
      reply.products_damaged.push_back(p.path + ": changed since it was written");
    else if (hash.error().code() == Code::kCancelled)
      return hash.error();
    else
      reply.products_damaged.push_back(p.path + ": " + readable(hash.error().message()));
  }
  for (const store::ProductFile& p : products)
    if (const auto outdated = outdated_sharp(library.workspace / p.path))
      reply.products_outdated.push_back(
          readable(outdated->path.lexically_relative(library.workspace).string() + ": " + outdated->why));
  if (gone.empty()) return {};
  std::map<std::string, std::string> path_of;
  for (const char* part : {"masters", "pictures", kSensorFolder}) {
    for (const fs::path& file : files_below(library.workspace / part)) {
      const auto hash = hash_file(file, ctx);
      if (hash.ok())
        path_of.emplace(*hash, readable(file.lexically_relative(library.workspace).generic_string()));
      else if (hash.error().code() == Code::kCancelled)
        return hash.error();
    }
  }
  for (const store::ProductFile& p : gone) {
    const auto found = path_of.find(p.hash);
    const std::string why = found == path_of.end() ? "missing; if you took it away yourself, library rebuild forgets it"
                                                   : "now " + found->second + "; library rebuild takes it up";
    reply.products_damaged.push_back(p.path + ": " + why);
  }
  return {};
}

}  // namespace

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

  std::map<std::string, std::string> content;  // path -> hash, of all files that can be read
  std::set<std::string> unreadable;
  for (const fs::path& file : files_below(library.frames)) {
    const std::string path = file.lexically_relative(library.frames).generic_string();
    const auto hash = hash_file(file, ctx);
    if (hash.ok()) {
      content[path] = *hash;
    } else if (hash.error().code() == Code::kCancelled) {
      return hash.error();
    } else {
      unreadable.insert(path);
      reply.unreadable.push_back(readable(path + ": " + hash.error().message()));
    }
  }
  std::map<std::string, std::string> path_of;  // hash -> where a file has it now, its name being UTF-8
  for (const auto& [path, hash] : content)
    if (readable(path) == path) path_of.emplace(hash, path);

  std::set<std::string> stays;  // paths of frames whose content is nowhere
  std::map<std::string, std::string> moves;
  std::set<std::string> known;
  for (const store::LibraryFrame& f : frames) {
    known.insert(f.path);
    const auto here = content.find(f.path);
    if (here != content.end() && here->second == f.hash)
      ++reply.whole;
    else if (unreadable.contains(f.path))
      continue;
    else if (const auto found = path_of.find(f.hash); found != path_of.end())
      moves[f.hash] = found->second;
    else {
      stays.insert(f.path);
      (content.contains(f.path) ? reply.changed : reply.missing).push_back(f.path);
    }
  }
  // A path whose own frame stays there, in the index, is not taken by another: what lies there is told, not moved.
  for (bool settled = false; !settled;) {
    settled = true;
    for (const store::LibraryFrame& f : frames) {
      const auto move = moves.find(f.hash);
      if (move == moves.end() || (!stays.contains(move->second) && !unreadable.contains(move->second))) continue;
      reply.missing.push_back(f.path + ": its content lies in " + move->second);
      stays.insert(f.path);
      moves.erase(move);
      settled = false;
    }
  }
  for (const store::LibraryFrame& f : frames) {
    const auto move = moves.find(f.hash);
    if (move == moves.end()) continue;
    reply.moved.push_back(f.path + " -> " + move->second);
    known.insert(move->second);
    ++reply.whole;
  }
  NG_CHECK(index.move_all(moves));
  for (const auto& [path, hash] : content)
    if (!known.contains(path)) reply.unknown.push_back(readable(path));
  NG_TRY(const auto products, index.product_files());
  NG_CHECK(check_products(library, products, reply, ctx));
  reply.seconds = watch.seconds();
  return reply;
}

}  // namespace ng::app
