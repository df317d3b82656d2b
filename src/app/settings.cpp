#include "app/settings.h"

#include <fmt/format.h>

#include "app/text_file.h"
#include "app/workspace.h"
#include "io/content_hash.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

std::string seen_of(const std::string& text) {
  return fmt::format("{:016x}", io::content_checksum(std::as_bytes(std::span(text))));
}

// The text with the changes, if the workspace can be read with it.
Result<std::string> checked(const std::string& text, const std::string& name, const SettingsRequest& request,
                            const fs::path& folder) {
  NG_TRY(std::string changed, change_settings(text, name, request.changes));
  if (request.file == SettingsFile::kSite) {
    NG_TRY([[maybe_unused]] const auto site, parse_site(changed, name, folder));
  } else {
    NG_TRY([[maybe_unused]] const auto rig, parse_rig(changed, name));
  }
  return changed;
}

}  // namespace

Result<SettingsReply> settings(const SettingsRequest& request, const Context&) {
  NG_TRY(const fs::path folder, find_workspace(request.workspace, fs::current_path()));
  SettingsReply reply;
  reply.name = std::string(word_of(request.file)) + ".toml";
  const fs::path path = folder / reply.name;
  NG_TRY(std::string text, read_text(path));
  reply.seen = seen_of(text);
  if (!request.changes.empty()) {
    if (request.seen != reply.seen)
      return Error(Code::kExists, reply.name + " was changed meanwhile: look at it again, then change it");
    auto changed = checked(text, reply.name, request, folder);
    if (!changed.ok() && !request.check) return std::move(changed).error();
    if (!changed.ok()) {
      reply.fault = changed.error().message();
    } else if (!request.check && *changed != text) {
      NG_TRY(const fs::path kept, keep_before(path, text));
      reply.kept = kept.filename().string();
      NG_CHECK(write_text(path, *changed, io::Overwrite::kReplace));
      reply.written = true;
      text = *std::move(changed);
      reply.seen = seen_of(text);
    }
  }
  NG_TRY(reply.settings, settings_of(text, reply.name));
  return reply;
}

}  // namespace ng::app
