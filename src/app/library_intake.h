// app/library_intake.h - one file after the other comes home: known by content, copied, verified, named, entered.
//
// What ingest does with a card's files and the import with those of an export. Errors are those of the library's own
// disk and end the whole; what is wrong with the source stays in the file's status. A copy is read back while the next
// file is copied (where the context has hands for it), and gets its name when both are done: one file is on its way at
// a time.
#pragma once

#include <filesystem>
#include <future>
#include <optional>
#include <string>

#include "app/library_folder.h"
#include "app/verified_copy.h"
#include "base/context.h"
#include "base/result.h"
#include "store/library_index.h"

namespace ng::app {

struct Arrival {
  std::filesystem::path from;
  store::LibraryFrame frame;  // what its header says; path and hash are found
  std::string wanted;         // path below frames/; taken as it is unless another file has it
  std::string expected_hash;  // of an export; empty: any content
  bool maybe_there = false;   // the library holds a frame of that length and start: worth comparing
};

struct IngestedFile {
  std::string from;    // readable
  std::string path;    // below frames/; empty when it was not taken
  std::string status;  // "copied", "there already", "would be copied", "not a frame", "failed", "not reached"
  std::string reason;
  std::string doubt;  // it is home all the same, but its header cannot be right
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("from", self.from);
    visit("path", self.path);
    visit("status", self.status);
    visit("reason", self.reason);
    visit("doubt", self.doubt);
  }
};

class Intake {
 public:
  Intake(const LibraryFolder& library, store::LibraryIndex& index, const Context& ctx)
      : library_(library), index_(index), ctx_(ctx) {}

  // Whether nothing is left to do for a file: the library has it, whole, or it cannot be read; then path and status
  // say so.
  [[nodiscard]] Result<bool> settled(const Arrival& arrival, IngestedFile& file);
  // Fills path and status, at the latest in the next take() or finish(): both arguments must live until then. Without a
  // status after an error: not home. Progress in bytes.
  [[nodiscard]] Result<void> take(Arrival& arrival, IngestedFile& file);
  // Names and enters the copy that is on its way, if there is one.
  [[nodiscard]] Result<void> finish();

 private:
  struct OnItsWay {
    Arrival& arrival;
    IngestedFile& file;
    VerifiedCopy copy;
    std::future<Result<void>> looked_at;  // after the copy: joined before the temporary file goes
  };

  [[nodiscard]] bool waits_for_name(const std::string& path) const;
  [[nodiscard]] Result<bool> is_there(const std::string& hash, IngestedFile& file);
  [[nodiscard]] Result<bool> is_free(const Arrival& arrival, const std::string& path);
  [[nodiscard]] Result<bool> adopt(Arrival& arrival, const std::filesystem::path& to, IngestedFile& file);
  [[nodiscard]] Result<void> copy(Arrival& arrival, const std::filesystem::path& to, IngestedFile& file);
  [[nodiscard]] Result<void> enter(const store::LibraryFrame& frame);
  [[nodiscard]] Context silent() const;

  const LibraryFolder& library_;
  store::LibraryIndex& index_;
  const Context& ctx_;
  std::optional<OnItsWay> on_its_way_;
};

}  // namespace ng::app
