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
  reply.seconds = watch.seconds();
  return reply;
}

}  // namespace ng::app
