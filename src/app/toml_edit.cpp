#include "app/toml_edit.h"

#include <fmt/format.h>

#include <algorithm>

#include "app/toml_place.h"

namespace ng::app {
namespace {

Result<toml::table> parsed(const std::string& text) {
  try {
    return toml::parse(text);
  } catch (const toml::parse_error& error) {
    return Error(Code::kInvalidInput, std::string(error.description()));
  }
}

const toml::node* find(const toml::table& root, std::string_view path) {
  const toml::node* node = &root;
  while (!path.empty() && node != nullptr) {
    const std::string_view step = path.substr(0, path.find('.'));
    path.remove_prefix(std::min(path.size(), step.size() + 1));
    if (const toml::array* list = node->as_array()) {
      node = list->get(static_cast<std::size_t>(std::stoul(std::string(step))));
    } else {
      const toml::table* table = node->as_table();
      node = table == nullptr ? nullptr : table->get(step);
    }
  }
  return node;
}

// Last line that a table's own keys take; its heading where it has none.
std::size_t last_line(const toml::table& table) {
  std::size_t line = table.source().begin.line;
  for (const auto& [key, node] : table) {
    const bool heads_its_own = node.is_table() && !node.as_table()->is_inline();
    const bool list_of_tables =
        node.is_array_of_tables() && !node.as_array()->empty() && !node.as_array()->get(0)->as_table()->is_inline();
    if (!heads_its_own && !list_of_tables) line = std::max<std::size_t>(line, node.source().end.line);
  }
  return line;
}

std::string ended(std::string text) {
  if (!text.empty() && text.back() != '\n') text += '\n';
  return text;
}

bool is_blank(std::string_view line) {
  return line.find_first_not_of(" \t\r\n") == std::string_view::npos;
}

bool is_remark(std::string_view line) {
  const auto first = line.find_first_not_of(" \t");
  return first != std::string_view::npos && line[first] == '#';
}

std::string_view line_at(const std::string& text, std::size_t number) {
  const std::size_t begin = line_start(text, number), end = line_start(text, number + 1);
  return std::string_view(text).substr(begin, end - begin);
}

}  // namespace

Result<std::string> with_value(const std::string& text, std::string_view path, const std::string& key,
                               const std::string& value) {
  NG_TRY(const toml::table root, parsed(text));
  const toml::node* node = find(root, path);
  const toml::table* table = node == nullptr ? nullptr : node->as_table();
  if (table == nullptr) return Error(Code::kInvalidInput, fmt::format("it has no table {}", path));
  if (const toml::node* old = table->get(key)) {
    const std::size_t begin = byte_at(text, old->source().begin), end = byte_at(text, old->source().end);
    return text.substr(0, begin) + value + text.substr(end);
  }
  if (table->is_inline())
    return Error(Code::kInvalidInput,
                 fmt::format("{} is written in one line: write {} = {} into it by hand", path, key, value));
  const std::string whole = ended(text);
  const std::size_t at = line_start(whole, last_line(*table) + 1);
  return whole.substr(0, at) + key + " = " + value + "\n" + whole.substr(at);
}

Result<std::string> with_item(const std::string& text, const std::string& list, std::size_t before,
                              const std::string& lines) {
  NG_TRY(const toml::table root, parsed(text));
  const toml::node* node = find(root, list);
  const toml::array* items = node == nullptr ? nullptr : node->as_array();
  if (items == nullptr || items->empty() || !items->is_array_of_tables() || items->get(0)->as_table()->is_inline())
    return Error(Code::kInvalidInput,
                 fmt::format("{} is no list of tables under [[{}]]: write into it by hand:\n{}", list, list, lines));
  const std::string whole = ended(text);
  const std::string block = fmt::format("[[{}]]\n{}", list, lines);
  if (before < items->size()) {
    // Above the heading, and above the remarks that stand on it.
    std::size_t line = items->get(before)->source().begin.line;
    while (line > 1 && is_remark(line_at(whole, line - 1))) --line;
    const std::size_t at = line_start(whole, line);
    return whole.substr(0, at) + block + "\n" + whole.substr(at);
  }
  // Below the last item: its keys, and the remarks that follow them.
  std::size_t line = last_line(*items->get(items->size() - 1)->as_table()) + 1;
  while (line_start(whole, line) < whole.size() && is_remark(line_at(whole, line))) ++line;
  const std::size_t at = line_start(whole, line);
  const bool gap = at < whole.size() && is_blank(line_at(whole, line));
  return whole.substr(0, at) + "\n" + block + (gap || at == whole.size() ? "" : "\n") + whole.substr(at);
}

}  // namespace ng::app
