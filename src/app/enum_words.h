// app/enum_words.h - the words by which requests name a choice.
#pragma once

#include <array>
#include <string_view>
#include <utility>

namespace ng::app {

// Specialised for every enumeration that stands in a request: kList holds each word with its value.
template <typename T>
struct EnumWords;

template <typename T>
concept WordedEnum = requires {
  EnumWords<T>::kList;
};

template <WordedEnum T>
[[nodiscard]] constexpr std::string_view word_of(T value) {
  for (const auto& [word, v] : EnumWords<T>::kList)
    if (v == value) return word;
  return {};
}

}  // namespace ng::app
