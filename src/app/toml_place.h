// app/toml_place.h - from the places that the TOML parser tells to bytes of the text.
#pragma once

#include <toml++/toml.h>

#include <string>

namespace ng::app {

// Byte of the first character of a line, counted from 1; the end of the text for a line beyond the last.
[[nodiscard]] std::size_t line_start(const std::string& text, std::size_t line);

// The parser counts characters of a line from 1; the text is UTF-8, where they may be several bytes long.
[[nodiscard]] std::size_t byte_at(const std::string& text, const toml::source_position& place);

}  // namespace ng::app
