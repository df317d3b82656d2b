// app/message_types.h - requests and replies as TypeScript types: what the page knows of them follows from the same
// declarations as the JSON.
//
// Every field of a request may be left out; every field of a reply is there, null where it is empty.
#pragma once

#include <filesystem>
#include <string>

#include "app/enum_words.h"
#include "app/message.h"
#include "base/instant.h"

namespace ng::app {

enum class MessageSide : bool { kRequest, kReply };

// "number", "string | null", "{ name: string; hours: number }[]" ...
template <typename T>
[[nodiscard]] std::string type_script(MessageSide side) {
  if constexpr (detail::kIsOptional<T>) {
    return type_script<typename T::value_type>(side) + " | null";
  } else if constexpr (std::is_same_v<T, Json>) {
    return "unknown";
  } else if constexpr (detail::Message<T>) {
    std::string text = "{ ";
    T value{};
    T::fields(value, [&]<typename F>(const char* name, F&) {
      text += std::string(name) + (side == MessageSide::kRequest ? "?: " : ": ") +
              type_script<std::remove_const_t<F>>(side) + "; ";
    });
    return text + "}";
  } else if constexpr (WordedEnum<T>) {
    std::string text;
    for (const auto& [word, value] : EnumWords<T>::kList)
      text += (text.empty() ? "'" : " | '") + std::string(word) + "'";
    return text;
  } else if constexpr (std::is_same_v<T, bool>) {
    return "boolean";
  } else if constexpr (std::is_arithmetic_v<T>) {
    return "number";
  } else if constexpr (std::is_convertible_v<T, std::string> || std::is_same_v<T, Instant> ||
                       std::is_same_v<T, std::filesystem::path>) {
    return "string";
  } else {
    static_assert(detail::Sequence<T>, "a type of field that has no form in TypeScript");
    const std::string item = type_script<typename T::value_type>(side);
    return item.find(" | ") == std::string::npos || item.front() == '{' ? item + "[]" : "(" + item + ")[]";
  }
}

}  // namespace ng::app
