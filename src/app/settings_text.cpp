#include "app/settings_text.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <map>
#include <optional>
#include <regex>

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

// Begin of each line, and one past the end.
std::vector<std::size_t> line_starts(const std::string& text) {
  std::vector<std::size_t> starts{0};
  for (std::size_t i = 0; i < text.size(); ++i)
    if (text[i] == '\n') starts.push_back(i + 1);
  return starts;
}

// The parser counts characters of a line from 1; the text is UTF-8.
std::size_t offset_of(const std::string& text, const std::vector<std::size_t>& starts, toml::source_position at) {
  std::size_t i = starts.at(at.line - 1);
  for (auto column = at.column; column > 1 && i < text.size(); --column) {
    ++i;
    while (i < text.size() && (static_cast<unsigned char>(text[i]) & 0xC0) == 0x80) ++i;
  }
  return i;
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
void collect(const toml::table& table, const std::string& group, const std::string& text,
             const std::vector<std::size_t>& starts, std::vector<Found>& out) {
  for (const auto& [key, node] : table) {
    const std::string name(key.str());
    const std::string path = group.empty() ? name : group + "." + name;
    if (const auto* inner = node.as_table()) {
      collect(*inner, path, text, starts, out);
      continue;
    }
    const auto* list = node.as_array();
    if (list != nullptr && !list->empty() && list->is_homogeneous<toml::table>()) {
      for (std::size_t i = 0; i < list->size(); ++i)
        collect(*list->get(i)->as_table(), fmt::format("{}[{}]", path, i), text, starts, out);
      continue;
    }
    const Json value = json_of(node);
    const auto& source = node.source();
    const Place place{offset_of(text, starts, source.begin), offset_of(text, starts, source.end)};
    out.push_back({{path, group, name, kind_of(value), remark_after(text, place.end),
                    static_cast<int>(source.begin.line), true, value},
                   place});
  }
}

// Every key behind a remark sign, in the table whose header stands above it.
void collect_remarked(const std::string& text, const std::vector<std::size_t>& starts, std::vector<Found>& out) {
  static const std::regex header(R"(^\s*(\[\[?)\s*([A-Za-z0-9_.]+)\s*\]\]?\s*(#.*)?$)");
  static const std::regex remarked(R"(^(\s*#\s*)([a-z][a-z0-9_]*)\s*=\s*(.+)$)");
  std::string group;
  std::map<std::string, int> items;
  for (std::size_t n = 0; n < starts.size(); ++n) {
    const std::size_t end = n + 1 < starts.size() ? starts[n + 1] - 1 : text.size();
    const std::string line = text.substr(starts[n], end - starts[n]);
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
                    remark_after(text, starts[n] + static_cast<std::size_t>(match.position(3))),
                    static_cast<int>(n + 1), false, value},
                   {starts[n], starts[n] + static_cast<std::size_t>(match.position(2))}});
  }
}

Result<std::vector<Found>> all_of(const std::string& text, const std::string& name) {
  NG_TRY(const toml::table table, parsed(text, name));
  const auto starts = line_starts(text);
  std::vector<Found> found;
  collect(table, "", text, starts, found);
  std::vector<Found> remarked;
  collect_remarked(text, starts, remarked);
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
