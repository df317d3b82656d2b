#include "app/library.h"

#include <fmt/format.h>

#include <memory>

#include "cli/library_parts.h"

namespace ng::cli {
namespace {

std::string text_of(const app::LibraryListReply& r) {
  std::string text;
  for (const app::LibraryLine& f : r.frames)
    text += fmt::format("{:<10} {:<9} {:<16} {:<8} {:>7} {:>10} {:>5} {}\n", f.night.empty() ? "no date" : f.night,
                        f.kind, f.target, f.filter, f.exposure_s ? fmt::format("{:g} s", *f.exposure_s) : "",
                        f.fwhm_px ? fmt::format("FWHM {:.2f}", *f.fwhm_px) : "",
                        f.worth ? fmt::format("{:.0f} %", 100 * *f.worth) : "", f.path);
  text += fmt::format("\n{} frames", r.frames.size());
  if (static_cast<int>(r.frames.size()) < r.matching) text += fmt::format(" of {} that fit", r.matching);
  if (r.more) text += fmt::format("; the next ones: --after '{}'", r.frames.back().path);
  text += "\n\nhours of light in the whole library:\n";
  for (const app::LibraryHours& h : r.hours)
    text += fmt::format("{:<16} {:<8} {:>7.2f} h  {:>5} frames  {:>3} nights\n", h.target.empty() ? "none" : h.target,
                        h.filter, h.hours, h.frames, h.nights);
  return text;
}

std::string text_of(const app::LibraryCheckReply& r) {
  return lines("changed", r.changed) + lines("missing", r.missing) + lines("unreadable", r.unreadable) +
         lines("moved", r.moved) + lines("unknown", r.unknown) + lines("damaged", r.products_damaged) +
         lines("outdated", r.products_outdated) +
         fmt::format(
             "{} frames are whole, {} changed, {} missing, {} unreadable, {} moved, {} unknown\n"
             "{} masters, pictures and sensor results are whole, {} are not; {:.1f} s\n",
             r.whole, r.changed.size(), r.missing.size(), r.unreadable.size(), r.moved.size(), r.unknown.size(),
             r.products_whole, r.products_damaged.size(), r.seconds);
}

std::string text_of(const app::LibraryRebuildReply& r) {
  std::string text = lines("changed", r.changed) + lines("left out", r.left_out);
  if (!r.damaged_index.empty()) text += fmt::format("the damaged index is kept as {}\n", r.damaged_index);
  return text + fmt::format("{} frames, {} masters, {} pictures and {} sensor results in the index; {:.1f} s\n",
                            r.frames, r.masters, r.pictures, r.sensors, r.seconds);
}

void add_list(CLI::App& parent, Session& session) {
  auto request = std::make_shared<app::LibraryListRequest>();
  CLI::App* command = session.add_command(parent, "list", "Frames by target, filter, kind and night; hours collected",
                                          "Example:\n  nightglass library list --target 'M 33' --from 2027-01-01",
                                          [request, &session]() -> Result<void> {
                                            NG_TRY(const auto reply, app::list_library(*request, session.context()));
                                            answer(session, reply, text_of(reply));
                                            return {};
                                          });
  add_workspace(command, request->workspace);
  command->add_option("--target", request->target,
                      "This target alone, as its headers name it; none: of lights whose headers name no target");
  command->add_option("--filter", request->filter, "This filter alone");
  command->add_option("--kind", request->kind, "This kind alone")
      ->check(CLI::IsMember({"light", "dark", "flat", "bias", "dark-flat", "unknown"}));
  command->add_option("--from", request->from_night, "Nights from this evening on, like 2027-01-05");
  command->add_option("--to", request->to_night, "Nights up to this evening");
  command->add_option("--max-fwhm-px", request->max_fwhm_px,
                      "Stars no wider than this; of frames that a reduction measured");
  command->add_option("--min-stars", request->min_stars, "At least so many stars; of frames that a reduction measured");
  command
      ->add_option(
          "--min-worth", request->min_worth,
          "Worth at least this share (0 to 1) of the best frame of its master, in squared signal-to-noise ratio")
      ->check(CLI::Range(0.0, 1.0));
  command->add_option("--limit", request->limit, "So many frames at most, in order of path")
      ->check(CLI::Range(1, 1000000));
  command->add_option("--after", request->after, "Those that come after this path, where a part before ended");
}

void add_check(CLI::App& parent, Session& session) {
  auto workspace = std::make_shared<std::optional<std::filesystem::path>>();
  CLI::App* command = session.add_command(
      parent, "check", "Read every frame, master and picture again: changed, missing, moved", "",
      [workspace, &session]() -> Result<void> {
        NG_TRY(const auto reply, app::check_library(*workspace, session.context()));
        answer(session, reply, text_of(reply));
        if (reply.good()) return {};
        return Error(Code::kCorrupt, "files are damaged or gone: bring them back from a backup, then check again");
      });
  add_workspace(command, *workspace);
}

void add_rebuild(CLI::App& parent, Session& session) {
  auto workspace = std::make_shared<std::optional<std::filesystem::path>>();
  CLI::App* command = session.add_command(
      parent, "rebuild", "Make library.db anew from the frames", "", [workspace, &session]() -> Result<void> {
        NG_TRY(const auto reply, app::rebuild_library(*workspace, session.context()));
        answer(session, reply, text_of(reply));
        return {};
      });
  add_workspace(command, *workspace);
}

void add_backup(CLI::App& parent, Session& session) {
  auto workspace = std::make_shared<std::optional<std::filesystem::path>>();
  auto to = std::make_shared<std::filesystem::path>();
  CLI::App* command =
      session.add_command(parent, "backup", "A whole copy of library.db, also while it is used", "",
                          [workspace, to, &session]() -> Result<void> { return app::backup_library(*workspace, *to); });
  add_workspace(command, *workspace);
  command->add_option("file", *to, "The copy; must not exist")->required();
}

}  // namespace

void add_library(CLI::App& root, Session& session) {
  CLI::App* parent = root.add_subcommand(
      "library", "Frames that came home: list, check, rebuild, backup, calibration, export, import, free");
  parent->require_subcommand(1);
  add_list(*parent, session);
  add_check(*parent, session);
  add_rebuild(*parent, session);
  add_backup(*parent, session);
  add_library_calibration(*parent, session);
  add_library_export(*parent, session);
  add_library_import(*parent, session);
  add_library_free(*parent, session);
}

}  // namespace ng::cli
