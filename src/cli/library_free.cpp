#include "app/library_free.h"

#include <fmt/format.h>

#include <memory>

#include "cli/library_parts.h"

namespace ng::cli {
namespace {

constexpr const char* kWord = "remove";

std::string text_of(const app::LibraryFreeReply& r) {
  std::string text;
  for (const app::FreedFile& f : r.files) {
    text += fmt::format("{:<17} {}\n", f.status, f.from);
    if (!f.path.empty()) text += fmt::format("                  home as frames/{}\n", f.path);
    if (!f.reason.empty()) text += fmt::format("                  {}\n", f.reason);
  }
  return text + fmt::format("{} files are safe at home, {:.1f} MB; {} removed, {} kept; {:.1f} s\n", r.safe,
                            static_cast<double>(r.safe_bytes) / 1e6, r.removed, r.kept, r.seconds);
}

}  // namespace

void add_library_free(CLI::App& parent, Session& session) {
  struct Options {
    app::LibraryFreeRequest request;
    std::string confirm;
  };
  auto o = std::make_shared<Options>();
  CLI::App* command = session.add_command(
      parent, "free", "Empty a card of the frames that are safe at home; asks for a word first",
      "Every file of the card is looked up by its content, and the library's copy is read from the disk again. "
      "Without\n"
      "--confirm this only says what would be removed. What has no whole copy at home is kept and named, with the "
      "reason.\nExample:\n  nightglass library free /media/card\n  nightglass library free /media/card --confirm "
      "remove",
      [o, &session]() -> Result<void> {
        o->request.remove = o->confirm == kWord;
        NG_TRY(const auto reply, app::free_source(o->request, session.context()));
        answer(session, reply, text_of(reply));
        if (!o->request.remove) {
          if (reply.safe > 0)
            session.note(fmt::format("nothing was removed; to remove these {} files for good, add: --confirm {}",
                                     reply.safe, kWord));
        } else if (reply.removed < reply.safe) {
          return Error(Code::kIo, fmt::format("{} of {} files could not be removed, the list says why",
                                              reply.safe - reply.removed, reply.safe));
        }
        return {};
      });
  add_workspace(command, o->request.workspace);
  command->add_option("source", o->request.source, "Folder, card or drive that was ingested")->required();
  command->add_option("--confirm", o->confirm, "The word 'remove': without it nothing is removed")
      ->check(CLI::IsMember({kWord}));
}

}  // namespace ng::cli
