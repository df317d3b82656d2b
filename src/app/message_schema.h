// app/message_schema.h - requests and replies as JSON Schema (2020-12, the dialect of OpenAPI 3.1): the same
// declarations once more. A request may leave every field out; a reply has them all. A number of a reply that is not
// finite is null.
#pragma once

#include <filesystem>
#include <string>

#include "app/enum_words.h"
#include "app/message.h"
#include "app/message_types.h"
#include "base/instant.h"

namespace ng::app {

template <typename T>
[[nodiscard]] Json json_schema(MessageSide side) {
  if constexpr (detail::kIsOptional<T>) {
    return {{"anyOf", Json::array({json_schema<typename T::value_type>(side), Json{{"type", "null"}}})}};
  } else if constexpr (std::is_same_v<T, Json>) {
    return Json::object();
  } else if constexpr (detail::Message<T>) {
    Json properties = Json::object(), names = Json::array();
    T value{};
    T::fields(value, [&]<typename F>(const char* name, F&) {
      properties[name] = json_schema<std::remove_const_t<F>>(side);
      names.push_back(name);
    });
    Json schema{{"type", "object"}, {"properties", properties}, {"additionalProperties", false}};
    if (side == MessageSide::kReply && !names.empty()) schema["required"] = names;
    return schema;
  } else if constexpr (WordedEnum<T>) {
    Json words = Json::array();
    for (const auto& [word, value] : EnumWords<T>::kList) words.push_back(std::string(word));
    return {{"type", "string"}, {"enum", words}};
  } else if constexpr (std::is_same_v<T, bool>) {
    return {{"type", "boolean"}};
  } else if constexpr (std::is_integral_v<T>) {
    return {{"type", "integer"}};
  } else if constexpr (std::is_floating_point_v<T>) {
    if (side == MessageSide::kReply) return {{"type", Json::array({"number", "null"})}};
    return {{"type", "number"}};
  } else if constexpr (std::is_same_v<T, Instant>) {
    return {{"type", "string"}, {"format", "date-time"}};
  } else if constexpr (std::is_convertible_v<T, std::string> || std::is_same_v<T, std::filesystem::path>) {
    return {{"type", "string"}};
  } else {
    static_assert(detail::Sequence<T>, "a type of field that has no form in JSON Schema");
    return {{"type", "array"}, {"items", json_schema<typename T::value_type>(side)}};
  }
}

}  // namespace ng::app
