// app/message_read.h - JSON into requests: the way back of message.h.
//
// A request names its fields as a reply does. What the JSON leaves out keeps its value; null empties an optional.
// Errors (kInvalidInput) name the key, what stands there and what belongs there; a key that is no field is refused,
// with the names of those that are, so that a misspelt wish is never silently ignored.
//
// Paths are those of the workspace: relative, and never out of it. Who may name any file of the machine (the command
// line) does not come through here.
#pragma once

#include <filesystem>
#include <string>

#include "app/enum_words.h"
#include "app/message.h"
#include "base/instant.h"
#include "base/result.h"

namespace ng::app {

class MessageReader {
 public:
  // `root`: the workspace that paths are relative to.
  explicit MessageReader(std::filesystem::path root) : root_(std::move(root)) {}

  // Into `value`, which holds the defaults. `key` is for messages.
  template <typename T>
  [[nodiscard]] Result<void> read(const Json& json, const std::string& key, T& value) const;

  // A path below the root, existing or not. Errors: kInvalidInput where it leads elsewhere.
  [[nodiscard]] Result<std::filesystem::path> path(const std::string& text, const std::string& key) const;

 private:
  [[nodiscard]] static Error wrong(const Json& json, const std::string& key, const std::string& wanted);
  [[nodiscard]] static Error unknown(const std::string& key, const std::string& names);
  [[nodiscard]] static std::string inner(const std::string& key, const std::string& name) {
    return key.empty() ? name : key + "." + name;
  }

  std::filesystem::path root_;
};

template <typename T>
Result<void> MessageReader::read(const Json& json, const std::string& key, T& value) const {
  if constexpr (std::is_same_v<T, Json>) {
    value = json;
    return {};
  } else if constexpr (detail::kIsOptional<T>) {
    if (json.is_null()) {
      value.reset();
      return {};
    }
    return read(json, key, value.emplace());
  } else if constexpr (detail::Message<T>) {
    if (!json.is_object()) return wrong(json, key, "an object");
    std::string names;
    Result<void> result;
    std::size_t taken = 0;
    T::fields(value, [&](const char* name, auto& field) {
      names += (names.empty() ? "" : ", ") + std::string(name);
      const auto found = json.find(name);
      if (found == json.end() || !result.ok()) return;
      ++taken;
      result = read(*found, inner(key, name), field);
    });
    if (!result.ok() || taken == json.size()) return result;
    for (const auto& [name, item] : json.items()) {
      bool known = false;
      T::fields(value, [&, n = name](const char* field, auto&) { known = known || n == field; });
      if (!known) return unknown(inner(key, name), names);
    }
    return {};
  } else if constexpr (std::is_same_v<T, bool>) {
    if (!json.is_boolean()) return wrong(json, key, "true or false");
    value = json.get<bool>();
    return {};
  } else if constexpr (std::is_integral_v<T>) {
    if (!json.is_number_integer()) return wrong(json, key, "a whole number");
    value = json.get<T>();
    return {};
  } else if constexpr (std::is_floating_point_v<T>) {
    if (!json.is_number()) return wrong(json, key, "a number");
    value = json.get<T>();
    return {};
  } else if constexpr (WordedEnum<T>) {
    std::string words;
    for (const auto& [word, v] : EnumWords<T>::kList) {
      if (json.is_string() && json.get<std::string>() == word) {
        value = v;
        return {};
      }
      words += (words.empty() ? "" : ", ") + std::string(word);
    }
    return wrong(json, key, "one of " + words);
  } else if constexpr (std::is_same_v<T, std::string>) {
    if (!json.is_string()) return wrong(json, key, "a text");
    value = json.get<std::string>();
    return {};
  } else if constexpr (std::is_same_v<T, Instant>) {
    const auto instant = json.is_string() ? Instant::parse(json.get<std::string>()) : std::nullopt;
    if (!instant) return wrong(json, key, "a UTC time like 2026-01-14T21:30:00");
    value = *instant;
    return {};
  } else if constexpr (std::is_same_v<T, std::filesystem::path>) {
    if (!json.is_string()) return wrong(json, key, "a path");
    NG_TRY(value, path(json.get<std::string>(), key));
    return {};
  } else {
    static_assert(detail::Sequence<T>, "a type of field that has no form in JSON");
    if (!json.is_array()) return wrong(json, key, "a list");
    value.clear();
    for (std::size_t i = 0; i < json.size(); ++i) {
      typename T::value_type item{};
      NG_CHECK(read(json[i], key + "[" + std::to_string(i) + "]", item));
      value.push_back(std::move(item));
    }
    return {};
  }
}

}  // namespace ng::app
