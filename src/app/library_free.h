// app/library_free.h - a card is emptied of the frames that are safe at home, and of nothing else.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"

namespace ng::app {

struct LibraryFreeRequest {
  std::filesystem::path source;
  std::optional<std::filesystem::path> workspace;
  bool remove = false;  // false: say what would be removed
};
struct FreedFile {
  std::string from;    // readable
  std::string path;    // of the copy, below frames/; empty when there is none
  std::string status;  // "would be removed", "removed", "kept"
  std::string reason;  // why it is kept
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("from", self.from);
    visit("path", self.path);
    visit("status", self.status);
    visit("reason", self.reason);
  }
};
struct LibraryFreeReply {
  std::vector<FreedFile> files;
  int safe = 0, removed = 0, kept = 0;
  std::int64_t safe_bytes = 0;
  double seconds = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("files", self.files);
    visit("safe", self.safe);
    visit("removed", self.removed);
    visit("kept", self.kept);
    visit("safe_bytes", self.safe_bytes);
    visit("seconds", self.seconds);
  }
};

// A file is safe when the library has its content and the copy, read from the disk now, still is that. First every copy
// is read; then, if asked, the safe files are removed, each only if it is still the file that was read. Links, hidden
// files, folders and all else stay. Errors: kNotFound (no workspace, no such folder), kInvalidInput (the source is the
// library), kIo (another one writes), kCorrupt (index), kCancelled (nothing was removed).
[[nodiscard]] Result<LibraryFreeReply> free_source(const LibraryFreeRequest& request, const Context& ctx);

}  // namespace ng::app
