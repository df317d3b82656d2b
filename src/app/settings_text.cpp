#include "app/settings_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>
#include <regex>

#include "app/toml_place.h"

namespace ng::app {
namespace {

// A value in the text: bytes from `begin` to before `end`.
struct Place {
  std::size_t begin = 0, end = 0;
};
struct Found {
  Setting setting;
  Place value;
};

Result<toml::table> parsed(const std::string& text, const std::string& name) {
  try {
    return toml::parse(text);
  } catch (const toml::parse_error& error) {
    return Error(Code::kInvalidInput, fmt::format("{}:{}: {}", name, error.source().begin.line, error.description()));
  }
}

Json json_of(const toml::node& node) {
  if (const auto* list = node.as_array()) {
    Json json = Json::array();
    for (const toml::node& item : *list) json.push_back(json_of(item));
    return json;
  }
  if (const auto* boolean = node.as_boolean()) return boolean->get();
  if (const auto* whole = node.as_integer()) return whole->get();
  if (const auto* number = node.as_floating_point()) return number->get();
  if (const auto* words = node.as_string()) return words->get();
  return nullptr;
}

const char* kind_of(const Json& value) {
  return value.is_number() ? "number" : value.is_boolean() ? "choice" : value.is_array() ? "list" : "text";
}

std::string remark_after(const std::string& text, std::size_t from) {
  const auto end = std::min(text.find('\n', from), text.size());
  const auto sign = text.find('#', from);
  if (sign == std::string::npos || sign >= end) return "";
  std::string words = text.substr(sign + 1, end - sign - 1);
  words.erase(0, std::min(words.find_first_not_of(' '), words.size()));
  return words;
}

// Every value that stands in the file.
void collect(const toml::table& table, const std::string& group, const std::string& text, std::vector<Found>& out) {
  for (const auto& [key, node] : table) {
    const std::string name(key.str());
    const std::string path = group.empty() ? name : group + "." + name;
    if (const auto* inner = node.as_table()) {
      collect(*inner, path, text, out);
      continue;
    }
    const auto* list = node.as_array();
    if (list != nullptr && !list->empty() && list->is_homogeneous<toml::table>()) {
      for (std::size_t i = 0; i < list->size(); ++i)
        collect(*list->get(i)->as_table(), fmt::format("{}[{}]", path, i), text, out);
      continue;
    }
    const Json value = json_of(node);
    const auto& source = node.source();
    const Place place{byte_at(text, source.begin), byte_at(text, source.end)};
    out.push_back({{path, group, name, kind_of(value), remark_after(text, place.end),
                    static_cast<int>(source.begin.line), true, value},
                   place});
  }
}

// Every key behind a remark sign, in the table whose header stands above it.
void collect_remarked(const std::string& text, std::vector<Found>& out) {
  static const std::regex header(R"(^\s*(\[\[?)\s*([A-Za-z0-9_.]+)\s*\]\]?\s*(#.*)?$)");
  static const std::regex remarked(R"(^(\s*#\s*)([a-z][a-z0-9_]*)\s*=\s*(.+)$)");
  std::string group;
  std::map<std::string, int> items;
  std::size_t start = 0;
  for (int number = 1; start < text.size(); ++number) {
    const std::size_t begin = start, end = std::min(text.find('\n', begin), text.size());
    start = end + 1;
    const std::string line = text.substr(begin, end - begin);
    std::smatch match;
    if (std::regex_match(line, match, header)) {
      group = match[2];
      if (match[1] == "[[") group += fmt::format("[{}]", items[group]++);
      continue;
    }
    if (!std::regex_match(line, match, remarked)) continue;
    toml::table one;
    try {
      one = toml::parse(match[2].str() + " = " + match[3].str());
    } catch (const toml::parse_error&) {
      continue;  // a remark that only looks like a key
    }
    const std::string name = match[2];
    const Json value = json_of(*one.get(name));
    if (value.is_null()) continue;
    out.push_back({{group.empty() ? name : group + "." + name, group, name, kind_of(value),
                    remark_after(text, begin + static_cast<std::size_t>(match.position(3))), number, false, value},
                   {begin, begin + static_cast<std::size_t>(match.position(2))}});
  }
}

Result<std::vector<Found>> all_of(const std::string& text, const std::string& name) {
  NG_TRY(const toml::table table, parsed(text, name));
  std::vector<Found> found;
  collect(table, "", text, found);
  std::vector<Found> remarked;
  collect_remarked(text, remarked);
  for (Found& one : remarked)
    if (std::none_of(found.begin(), found.end(), [&](const Found& f) { return f.setting.key == one.setting.key; }))
      found.push_back(std::move(one));
  std::stable_sort(found.begin(), found.end(),
                   [](const Found& a, const Found& b) { return a.setting.line < b.setting.line; });
  return found;
}

std::string written(const Json& value) {
  if (!value.is_array()) return value.dump(-1, ' ', false, Json::error_handler_t::replace);
  std::string words;
  for (const Json& item : value) words += (words.empty() ? "" : ", ") + written(item);
  return "[" + words + "]";
}

Error by_hand(const std::string& name, const Found& f) {
  return {Code::kUnsupported,
          fmt::format("{}:{}: {} cannot be changed from here without touching what stands around it: "
                      "change it in the file",
                      name, f.setting.line, f.setting.key)};
}

Result<std::string> changed(const std::string& text, const std::string& name, const SettingChange& change) {
  NG_TRY(const std::vector<Found> all, all_of(text, name));
  const auto found = std::find_if(all.begin(), all.end(), [&](const Found& f) { return f.setting.key == change.key; });
  if (found == all.end()) return Error(Code::kInvalidInput, fmt::format("{} has no key {}", name, change.key));
  const auto [begin, end] = found->value;
  std::string out = text;
  if (change.value.is_null()) {
    if (!found->setting.set) return out;
    const std::size_t start = text.rfind('\n', begin) + 1;  // npos + 1 is the first line
    if (text.substr(begin, end - begin).find('\n') != std::string::npos) return by_hand(name, *found);
    return out.insert(start, "# ");
  }
  if (std::string(kind_of(change.value)) != found->setting.kind)
    return Error(Code::kInvalidInput,
                 fmt::format("{}: {} is {}: give a {} like {}", name, change.key, change.value.dump(),
                             found->setting.kind, found->setting.value.dump()));
  if (found->setting.set) {
    if (text.substr(begin, end - begin).find('#') != std::string::npos && found->setting.kind == "list")
      return by_hand(name, *found);
    return out.replace(begin, end - begin, written(change.value));
  }
  // The sign goes away, then the value is as any other.
  out.erase(begin, end - begin);
  return changed(out, name, change);
}

}  // namespace

Result<std::vector<Setting>> settings_of(const std::string& text, const std::string& name) {
  NG_TRY(const std::vector<Found> all, all_of(text, name));
  std::vector<Setting> settings;
  for (const Found& f : all) settings.push_back(f.setting);
  return settings;
}

Result<std::string> change_settings(const std::string& text, const std::string& name,
                                    const std::vector<SettingChange>& changes) {
  std::string out = text;
  for (const SettingChange& change : changes) {
    NG_TRY(out, changed(out, name, change));
  }
  // What was not named is what it was.
  NG_TRY(const std::vector<Setting> before, settings_of(text, name));
  auto after = settings_of(out, name);
  if (!after.ok()) return std::move(after).error();
  for (const Setting& old : before) {
    const auto named = std::find_if(changes.begin(), changes.end(), [&](const auto& c) { return c.key == old.key; });
    const auto now = std::find_if(after->begin(), after->end(), [&](const Setting& s) { return s.key == old.key; });
    const bool same = now != after->end() && (named != changes.end() ? now->set == !named->value.is_null()
                                                                     : now->value == old.value && now->set == old.set);
    if (!same)
      return Error(
          Code::kUnsupported,
          fmt::format("{}:{}: {} cannot be changed from here without touching what stands around it: change it "
                      "in the file",
                      name, old.line, old.key));
  }
  return out;
}

}  // namespace ng::app
