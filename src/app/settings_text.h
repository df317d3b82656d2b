// app/settings_text.h - single values of a TOML file that people write by hand: read, and changed in the text itself,
// so that every remark, blank and order of the person stays.
//
// Keys are named as "optics.aperture_mm" or "filters[1].centre_nm". A key behind a remark sign ("# pressure_hpa = 950")
// is one that may be set; taking a value away puts the sign back before it.
#pragma once

#include <string>
#include <vector>

#include "app/message.h"
#include "base/result.h"

namespace ng::app {

struct Setting {
  std::string key, group, name;  // "filters[1].centre_nm", "filters[1]", "centre_nm"
  std::string kind;              // "number", "text", "choice" (true or false), "list"
  std::string about;             // the remark behind it
  int line = 0;
  bool set = true;  // false: behind a remark sign
  Json value;       // of one that is not set: what stands there as an example
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("key", self.key);
    visit("group", self.group);
    visit("name", self.name);
    visit("kind", self.kind);
    visit("about", self.about);
    visit("line", self.line);
    visit("set", self.set);
    visit("value", self.value);
  }
};

struct SettingChange {
  std::string key;
  Json value;  // null: not set any more
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("key", self.key);
    visit("value", self.value);
  }
};

// In the order of the file. Errors: kInvalidInput "NAME:LINE: what" (not TOML).
[[nodiscard]] Result<std::vector<Setting>> settings_of(const std::string& text, const std::string& name);

// The text with these values. Errors: those of settings_of(); kInvalidInput (no such key, a value of another kind);
// kUnsupported where a line cannot be changed without touching anything else: the person's editor can.
[[nodiscard]] Result<std::string> change_settings(const std::string& text, const std::string& name,
                                                  const std::vector<SettingChange>& changes);

}  // namespace ng::app
