#include "app/toml_place.h"

namespace ng::app {

std::size_t line_start(const std::string& text, std::size_t line) {
  std::size_t at = 0;
  for (std::size_t k = 1; k < line; ++k) {
    at = text.find('\n', at);
    if (at == std::string::npos) return text.size();
    ++at;
  }
  return at;
}

std::size_t byte_at(const std::string& text, const toml::source_position& place) {
  std::size_t at = line_start(text, place.line);
  for (auto column = place.column; column > 1 && at < text.size(); --column) {
    ++at;
    while (at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0) == 0x80) ++at;
  }
  return at;
}

}  // namespace ng::app
