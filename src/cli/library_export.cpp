#include "app/library_export.h"

#include <fmt/format.h>

#include <memory>

#include "cli/library_parts.h"

namespace ng::cli {
namespace {

std::string text_of(const app::ExportCounts& n) {
  return fmt::format("{} frames, {} files of masters, {} of pictures, {} sensor results, {} star catalogues", n.frames,
                     n.masters, n.pictures, n.sensors, n.catalogues);
}
std::string file_lines(const char* what, const std::vector<app::ExportedFile>& list) {
  std::string text;
  for (const auto& f : list) text += fmt::format("{:<10} {}\n           {}\n", what, f.path, f.reason);
  return text;
}
std::string text_of(const app::LibraryExportReply& r) {
  return file_lines("failed", r.failed) + lines("note", r.notes) + text_of(r.counts) +
         fmt::format("; {} copied and verified, {} there already; {:.1f} MB in {:.1f} s\n", r.copied, r.there_already,
                     static_cast<double>(r.bytes) / 1e6, r.seconds);
}
std::string text_of(const app::LibraryImportReply& r) {
  return file_lines("failed", r.failed) + file_lines("renamed", r.renamed) + lines("note", r.notes) +
         fmt::format("target {}: ", r.target) + text_of(r.counts) +
         fmt::format("; {} copied and verified, {} there already; {:.1f} s\n", r.copied, r.there_already, r.seconds);
}

}  // namespace

void add_library_export(CLI::App& parent, Session& session) {
  auto request = std::make_shared<app::LibraryExportRequest>();
  CLI::App* command = session.add_command(
      parent, "export", "A target with all that makes its picture again, for another library",
      "Lights, calibration frames, masters, pictures, recipes and imported star catalogues, each copy verified, with "
      "checksums.\nThe frames hold what their headers say, the place of the site among it. Example:\n"
      "  nightglass library export 'M 33' --to /media/disk/m33",
      [request, &session]() -> Result<void> {
        NG_TRY(const auto reply, app::export_target(*request, session.context()));
        answer(session, reply, text_of(reply));
        if (reply.failed.empty()) return {};
        return Error(Code::kCorrupt,
                     fmt::format("{} files are not in the export, the list says why: it is not whole, and "
                                 "cannot be imported",
                                 reply.failed.size()));
      });
  add_workspace(command, request->workspace);
  command->add_option("target", request->target, "Its name, as `library list` shows it")->required();
  command->add_option("--to", request->to, "Folder for it; made when missing")->required();
}

void add_library_import(CLI::App& parent, Session& session) {
  auto request = std::make_shared<app::LibraryImportRequest>();
  CLI::App* command = session.add_command(
      parent, "import", "What another library exported comes into this one",
      "Every file is compared with the checksum that the export states; nothing is overwritten. Afterwards\n"
      "`nightglass reduce --target NAME` makes the same masters as there.",
      [request, &session]() -> Result<void> {
        NG_TRY(const auto reply, app::import_target(*request, session.context()));
        answer(session, reply, text_of(reply));
        if (reply.failed.empty()) return {};
        return Error(Code::kCorrupt,
                     fmt::format("{} files of the export did not come home, the list says why", reply.failed.size()));
      });
  add_workspace(command, request->workspace);
  command->add_option("folder", request->from, "The export")->required();
}

}  // namespace ng::cli
