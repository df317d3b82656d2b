// app/ingest.h - the night's files come home: copied, verified, named, and entered into the library.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/library_intake.h"
#include "app/library_layout.h"
#include "base/context.h"
#include "base/instant.h"
#include "base/result.h"

namespace ng::app {

struct IngestRequest {
  std::filesystem::path source;
  std::optional<std::filesystem::path> workspace;
  std::string layout = kDefaultLayout;
  bool preview = false;  // say where each would go, copy nothing
  Instant at;            // now, by the clock of this computer: frames that are dated after it are told
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("source", self.source);
    visit("layout", self.layout);
    visit("preview", self.preview);
    visit("at", self.at);
  }
};

struct IngestReply {
  std::vector<IngestedFile> files;
  int copied = 0, there_already = 0, not_frames = 0, failed = 0, not_reached = 0;
  std::string ended_early;  // why not all files were reached; what the list calls home is home
  std::int64_t copied_bytes = 0;
  double seconds = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("files", self.files);
    visit("copied", self.copied);
    visit("there_already", self.there_already);
    visit("not_frames", self.not_frames);
    visit("failed", self.failed);
    visit("not_reached", self.not_reached);
    visit("ended_early", self.ended_early);
    visit("copied_bytes", self.copied_bytes);
    visit("seconds", self.seconds);
  }
};

// Nothing that is kept goes by the clock of this computer: nights are those of the headers. Run again after any
// interruption it goes on where it was; no file of that name or content is written twice, and none is overwritten. A
// file that cannot be read is told and the others go on; a full disk or Ctrl-C ends it early, and the reply says so
// beside what is home by then. Errors: kNotFound (no workspace, no such folder, nothing in it), kInvalidInput (layout;
// the source is the library), kIo (not enough room, said before anything is copied; another ingest at work), kCorrupt,
// kCancelled (before the first copy).
[[nodiscard]] Result<IngestReply> ingest(const IngestRequest& request, const Context& ctx);

}  // namespace ng::app
