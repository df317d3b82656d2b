// app/library_export.h - a target leaves the library with all that makes its picture again, and arrives in another one.
//
// An export is a folder that a person can read: frames/, masters/, pictures/, sensors/ and catalogues/ with the paths
// that they have in the workspace, export.json (what they are, each with the XXH3-128 of its content), and
// checksums.txt, which `xxhsum --check` reads. export.json is written last: a folder without it is not whole yet.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"

namespace ng::app {

// One file of an export or import that was not taken, or taken under another name.
struct ExportedFile {
  std::string path;    // in the export
  std::string reason;  // why it was left out, or what it is called now
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("reason", self.reason);
  }
};

struct ExportCounts {
  int frames = 0, masters = 0, pictures = 0, sensors = 0,
      catalogues = 0;  // files; a master counts with all that lies beside it
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("frames", self.frames);
    visit("masters", self.masters);
    visit("pictures", self.pictures);
    visit("sensors", self.sensors);
    visit("catalogues", self.catalogues);
  }
};

struct LibraryExportRequest {
  std::optional<std::filesystem::path> workspace;
  std::string target;
  std::filesystem::path to;
};
struct LibraryExportReply {
  ExportCounts counts;
  int copied = 0, there_already = 0;
  std::vector<ExportedFile> failed;
  std::vector<std::string> notes;
  std::int64_t bytes = 0;  // of the whole export
  double seconds = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("counts", self.counts);
    visit("copied", self.copied);
    visit("there_already", self.there_already);
    visit("failed", self.failed);
    visit("notes", self.notes);
    visit("bytes", self.bytes);
    visit("seconds", self.seconds);
  }
};
// The lights of a target, all calibration frames of their cameras, masters made of those lights, pictures made of those
// masters, and the star catalogues of the workspace. Copies are verified as those of ingest; what is there already is
// compared; run again after an interruption it goes on. A file that has rotted is told, and export.json is not written.
// Errors: kNotFound (no workspace, no such target), kInvalidInput (the export would lie in the library), kIo (no room;
// full disk), kCancelled.
[[nodiscard]] Result<LibraryExportReply> export_target(const LibraryExportRequest& request, const Context& ctx);

struct LibraryImportRequest {
  std::optional<std::filesystem::path> workspace;
  std::filesystem::path from;
};
struct LibraryImportReply {
  std::string target;
  ExportCounts counts;  // of the export
  int copied = 0, there_already = 0;
  std::vector<ExportedFile> renamed;  // another file has its name here
  std::vector<ExportedFile> failed;
  std::vector<std::string> notes;
  double seconds = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("target", self.target);
    visit("counts", self.counts);
    visit("copied", self.copied);
    visit("there_already", self.there_already);
    visit("renamed", self.renamed);
    visit("failed", self.failed);
    visit("notes", self.notes);
    visit("seconds", self.seconds);
  }
};
// Every file is compared with the hash that its export states; nothing is overwritten: what has another content under
// its name here gets a number. Run again after an interruption it goes on. Errors: kNotFound (no workspace, no export),
// kCorrupt (export.json), kUnsupported (of a newer version), kIo (no room; full disk; another one writes), kCancelled.
[[nodiscard]] Result<LibraryImportReply> import_target(const LibraryImportRequest& request, const Context& ctx);

}  // namespace ng::app
