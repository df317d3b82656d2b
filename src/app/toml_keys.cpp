#include "app/toml_keys.h"

#include <fmt/format.h>

#include <limits>

#include "base/near_word.h"

namespace ng::app {
namespace {

Error must_be(const std::string& wanted) {
  return {Code::kInvalidInput, "must be " + wanted};
}

Result<double> number_of(const toml::node& node) {
  const auto value = node.value<double>();
  if (!value || node.is_boolean()) return must_be("a number");
  return *value;
}

Result<double> number_within(const toml::node& node, double low, double high) {
  NG_TRY(const double value, number_of(node));
  if (!(value >= low && value <= high))
    return Error(Code::kInvalidInput, fmt::format("is {}: it must lie between {} and {}", value, low, high));
  return value;
}

// "focal_length_cm" and "focal_length_mm" differ in the last word alone.
bool same_but_unit(std::string_view a, std::string_view b) {
  const auto stem = [](std::string_view word) { return word.substr(0, word.rfind('_')); };
  return a != b && stem(a) == stem(b) && stem(a) != b && stem(b) != a;
}

std::string unknown_key(std::string_view key, const TomlKeys& keys) {
  std::vector<std::string> known;
  for (const auto& [name, entry] : keys) known.push_back(name);
  const std::string list = fmt::format("known here: {}", fmt::join(known, ", "));
  for (const std::string& name : known)
    if (same_but_unit(key, name))
      return fmt::format("no such key; write {}, in the unit that its name ends with; {}", name, list);
  const auto near = near_word(key, known);
  return near ? fmt::format("no such key; did you mean {}? {}", *near, list) : "no such key; " + list;
}

template <typename T>
TomlSetter whole_number(T& field) {
  return [&field](const toml::node& node) -> Result<void> {
    const auto value = node.value_exact<std::int64_t>();
    const bool fits = value && *value >= 0 && (sizeof(T) == 8 || *value <= std::numeric_limits<int>::max());
    if (!fits) return must_be("a whole number from 0 up");
    field = static_cast<T>(*value);
    return {};
  };
}

template <typename T>
TomlSetter exactly(T& field, const char* wanted) {
  return [&field, wanted](const toml::node& node) -> Result<void> {
    const auto value = node.value_exact<T>();
    if (!value) return must_be(wanted);
    field = *value;
    return {};
  };
}

template <typename T>
TomlSetter number_field(T& field, double low, double high) {
  return [&field, low, high](const toml::node& node) -> Result<void> {
    NG_TRY(field, number_within(node, low, high));
    return {};
  };
}

}  // namespace

TomlSetter set(double& field) {
  return [&field](const toml::node& node) -> Result<void> {
    NG_TRY(field, number_of(node));
    return {};
  };
}
TomlSetter set(int& field) {
  return whole_number(field);
}
TomlSetter set(std::uint64_t& field) {
  return whole_number(field);
}
TomlSetter set(bool& field) {
  return exactly(field, "true or false");
}
TomlSetter set(std::vector<double>& field) {
  return [&field](const toml::node& node) -> Result<void> {
    const toml::array* list = node.as_array();
    if (list == nullptr) return must_be("numbers in brackets, like [0.1, 0.2]");
    field.clear();
    for (const toml::node& item : *list) {
      NG_TRY(const double value, number_of(item));
      field.push_back(value);
    }
    return {};
  };
}
TomlSetter set(std::string& field) {
  return exactly(field, "a text in quotes");
}
TomlSetter within(double& field, double low, double high) {
  return number_field(field, low, high);
}
TomlSetter within(std::optional<double>& field, double low, double high) {
  return number_field(field, low, high);
}
TomlSetter within(int& field, int low, int high) {
  return [&field, low, high](const toml::node& node) -> Result<void> {
    const auto value = node.value_exact<std::int64_t>();
    if (!value) return must_be("a whole number");
    if (*value < low || *value > high)
      return Error(Code::kInvalidInput, fmt::format("is {}: it must lie between {} and {}", *value, low, high));
    field = static_cast<int>(*value);
    return {};
  };
}
TomlSetter above(double& field, double low, double high) {
  return [&field, low, high](const toml::node& node) -> Result<void> {
    NG_TRY(const double value, number_of(node));
    if (!(value > low && value <= high))
      return Error(Code::kInvalidInput, fmt::format("is {}: it must be above {} and at most {}", value, low, high));
    field = value;
    return {};
  };
}
TomlKey need(TomlSetter setter) {
  return {std::move(setter), true};
}

Result<void> TomlReader::read(const std::string& text, const TomlKeys& keys) const {
  try {
    return table(toml::parse(text, name_), "", keys);
  } catch (const toml::parse_error& error) {
    return Error(Code::kInvalidInput, fmt::format("{}:{}: not TOML: {}", name_, error.source().begin.line,
                                                  std::string(error.description())));
  }
}

Result<void> TomlReader::table(const toml::table& table, const std::string& path, const TomlKeys& keys) const {
  for (const auto& [key, node] : table) {
    const std::string full = path + std::string(key.str());
    const auto known = keys.find(key.str());
    if (known == keys.end()) return at(key.source().begin.line, full, unknown_key(key.str(), keys));
    if (const auto done = known->second.set(node); !done.ok())
      return at(key.source().begin.line, full, done.error().message());
  }
  for (const auto& [key, entry] : keys)
    if (entry.needed && !table.contains(key)) return at(table.source().begin.line, path + key, "is missing");
  return {};
}

TomlSetter TomlReader::inner(const std::string& path, TomlKeys keys) const {
  return [this, path, keys = std::move(keys)](const toml::node& node) -> Result<void> {
    if (!node.is_table()) return must_be("a table");
    return table(*node.as_table(), path + ".", keys);
  };
}

TomlSetter TomlReader::tables(const std::string& path,
                              std::function<Result<void>(const toml::table* item)> take) const {
  return [this, path, take = std::move(take)](const toml::node& node) -> Result<void> {
    const toml::array* list = node.as_array();
    const Error wrong = must_be(fmt::format("a list of tables, each begun by [[{}]]", path));
    if (list == nullptr) return wrong;
    NG_CHECK(take(nullptr));
    for (const toml::node& item : *list) {
      const toml::table* one = item.as_table();
      if (one == nullptr) return wrong;
      if (const auto done = take(one); !done.ok()) return at(item.source().begin.line, path, done.error().message());
    }
    return {};
  };
}

Error TomlReader::at(std::uint32_t line, const std::string& key, const std::string& what) const {
  if (what.rfind(name_ + ":", 0) == 0) return {Code::kInvalidInput, what};  // an inner table said it already
  return {Code::kInvalidInput, fmt::format("{}:{}: {}: {}", name_, line, key, what)};
}

}  // namespace ng::app
