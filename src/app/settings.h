// app/settings.h - site.toml and rig.toml as forms: their values with what the person remarked, and changes to them.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/enum_words.h"
#include "app/message.h"
#include "app/settings_text.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

enum class SettingsFile : std::uint8_t { kSite, kRig };
template <>
struct EnumWords<SettingsFile> {
  static constexpr std::array<std::pair<std::string_view, SettingsFile>, 2> kList{
      {{"site", SettingsFile::kSite}, {"rig", SettingsFile::kRig}}};
};

struct SettingsRequest {
  std::optional<std::filesystem::path> workspace;
  SettingsFile file = SettingsFile::kSite;
  std::vector<SettingChange> changes;  // none: only look
  std::string seen;                    // of the reply that the changes follow from; asked for with changes
  bool check = false;                  // say in `fault` whether the changes would do, and write nothing
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("file", self.file);
    visit("changes", self.changes);
    visit("seen", self.seen);
    visit("check", self.check);
  }
};

struct SettingsReply {
  std::string name;  // "site.toml"
  std::string seen;  // which content of the file this is
  std::vector<Setting> settings;
  std::string fault;  // of changes that were only checked: why they would not do
  bool written = false;
  std::string kept;  // the file's content before, beside it
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("seen", self.seen);
    visit("settings", self.settings);
    visit("fault", self.fault);
    visit("written", self.written);
    visit("kept", self.kept);
    visit("notes", self.notes);
  }
};

// The file before the change stays beside it (text_file.h). Errors: those of find_workspace(), of change_settings()
// and of read_workspace() for the changed text; kExists where the file was changed by another hand meanwhile; kIo.
[[nodiscard]] Result<SettingsReply> settings(const SettingsRequest& request, const Context& ctx);

}  // namespace ng::app
