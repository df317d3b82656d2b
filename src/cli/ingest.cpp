#include "app/ingest.h"

#include <fmt/format.h>

#include <memory>

#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(Each file is read once, copied, read back from the disk, and only then given its name in frames/ of the workspace. What is
there already is known by its content and not copied again; nothing is overwritten; the source is not changed. After an
interruption run the same command again.

Examples:
  nightglass ingest /media/card --preview
  nightglass ingest /media/card
  nightglass ingest /media/card --layout '{night}/{target}/{kind}/{filter} {exposure_s} {name}')";

std::string text_of(const app::IngestReply& r) {
  std::string text;
  for (const app::IngestedFile& f : r.files) {
    text += fmt::format("{:<15} {}", f.status, f.from);
    if (!f.path.empty()) text += "\n                -> frames/" + f.path;
    if (!f.reason.empty()) text += "\n                   " + f.reason;
    if (!f.doubt.empty()) text += "\n                   doubtful: " + f.doubt;
    text += "\n";
  }
  text += fmt::format("{} copied and verified, {} there already, {} not frames, {} failed", r.copied, r.there_already,
                      r.not_frames, r.failed);
  if (r.not_reached > 0) text += fmt::format(", {} not reached", r.not_reached);
  return text + fmt::format("; {:.1f} MB in {:.1f} s\n", static_cast<double>(r.copied_bytes) / 1e6, r.seconds);
}

}  // namespace

void add_ingest(CLI::App& root, Session& session) {
  auto request = std::make_shared<app::IngestRequest>();
  CLI::App* command = session.add_command(
      root, "ingest", "Take the night's files home: copied, verified, named, never overwritten", kHelp,
      [request, &session]() -> Result<void> {
        request->at = now();
        NG_TRY(const app::IngestReply reply, app::ingest(*request, session.context()));
        if (session.json())
          session.print(app::to_json(reply));
        else
          session.print(text_of(reply));
        if (!reply.ended_early.empty())
          return Error(Code::kIo,
                       fmt::format("{}; {} files are home, {} were not reached: keep the source, and run this "
                                   "again",
                                   reply.ended_early, reply.copied + reply.there_already, reply.not_reached));
        if (reply.failed == 0) return {};
        return Error(Code::kIo, fmt::format("{} of {} files did not come home, the list says why: keep the source, and "
                                            "run this again when they can be read",
                                            reply.failed, reply.files.size()));
      });
  command->add_option("source", request->source, "Folder, card, drive or share with the night's files")->required();
  command->add_option("--workspace", request->workspace,
                      "Folder with site.toml and rig.toml; default: the nearest upwards");
  command
      ->add_option("--layout", request->layout,
                   "Folders and names in frames/; words: target filter night kind name camera exposure_s gain")
      ->capture_default_str();
  command->add_flag("--preview", request->preview, "Say where every file would go, and copy nothing");
}

}  // namespace ng::cli
