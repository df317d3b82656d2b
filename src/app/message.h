// app/message.h - requests and replies are declared once; JSON (and later other forms) follow from the declaration.
//
// A message is a plain struct with one static member template that names its fields:
//
//   struct SkyLevel {
//     double background = 0;
//     std::optional<double> noise;
//     template <typename Self, typename Visitor>
//     static void fields(Self& self, Visitor&& visit) {
//       visit("background", self.background);
//       visit("noise", self.noise);
//     }
//   };
//
// to_json(message) writes every field in that order; an empty optional and a number that is not finite become null.
#pragma once

#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <type_traits>
#include <vector>

namespace ng::app {

using Json = nlohmann::ordered_json;

template <typename T>
[[nodiscard]] Json to_json(const T& value);

namespace detail {

struct AnyVisitor {
  template <typename T>
  void operator()(const char*, T&) const {}
};
template <typename T>
concept Message = requires(T& m, AnyVisitor v) {
  std::remove_const_t<T>::fields(m, v);
};

template <typename T>
inline constexpr bool kIsOptional = false;
template <typename T>
inline constexpr bool kIsOptional<std::optional<T>> = true;
template <typename T>
concept Sequence = !std::is_convertible_v<T, std::string> && requires(const T& t) {
  t.begin();
  t.end();
};

}  // namespace detail

template <typename T>
Json to_json(const T& value) {
  if constexpr (std::is_same_v<T, Json>) {
    return value;
  } else if constexpr (detail::kIsOptional<T>) {
    return value ? to_json(*value) : Json(nullptr);
  } else if constexpr (detail::Message<const T>) {
    Json object = Json::object();
    T::fields(value, [&](const char* name, const auto& field) { object[name] = to_json(field); });
    return object;
  } else if constexpr (detail::Sequence<T>) {
    Json array = Json::array();
    for (const auto& item : value) array.push_back(to_json(item));
    return array;
  } else if constexpr (std::is_floating_point_v<T>) {
    return std::isfinite(value) ? Json(value) : Json(nullptr);
  } else {
    return Json(value);
  }
}

}  // namespace ng::app
