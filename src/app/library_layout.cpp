#include "app/library_layout.h"

#include <fmt/format.h>

#include <filesystem>
#include <map>

namespace ng::app {
namespace {

constexpr std::size_t kLongestPart = 255;  // NAME_MAX of the usual file systems, in bytes

// Length of the UTF-8 sequence at i (RFC 3629: no overlong forms, no surrogates, nothing above U+10FFFF); 0: none.
std::size_t utf8_length(const std::string& s, std::size_t i) {
  const auto byte = [&](std::size_t k) { return k < s.size() ? static_cast<unsigned char>(s[k]) : 0U; };
  const unsigned first = byte(i);
  if (first < 0x80) return 1;
  const std::size_t length = first >= 0xF0 ? 4 : first >= 0xE0 ? 3 : 2;
  if (first < 0xC2 || first > 0xF4) return 0;
  for (std::size_t k = 1; k < length; ++k)
    if ((byte(i + k) & 0xC0) != 0x80) return 0;
  const unsigned second = byte(i + 1);
  if ((first == 0xE0 && second < 0xA0) || (first == 0xED && second > 0x9F) || (first == 0xF0 && second < 0x90) ||
      (first == 0xF4 && second > 0x8F))
    return 0;
  return length;
}

// One value as a part of a path.
std::string as_part(const std::string& value) {
  std::string part = readable(value);
  for (char& c : part)
    if (c == '/' || c == '\\' || c == ':') c = '-';
  while (!part.empty() && part.front() == ' ') part.erase(0, 1);
  while (!part.empty() && part.back() == ' ') part.pop_back();
  if (part.empty()) return "none";
  if (part.front() == '.') part.front() = '_';
  return part;
}

// Cut in the middle of the name, between whole characters; the extension stays.
std::string cut(const std::string& part, std::size_t longest) {
  if (part.size() <= longest) return part;
  std::string extension = std::filesystem::path(part).extension().string();
  if (extension.size() > 16) extension.clear();
  std::size_t end = 0;
  while (end + utf8_length(part, end) <= longest - extension.size()) end += utf8_length(part, end);
  return part.substr(0, end) + extension;
}

std::string number(const std::optional<double>& value, const char* unit) {
  return value ? fmt::format("{:g}{}", *value, unit) : "";
}

}  // namespace

std::string readable(const std::string& bytes) {
  std::string text;
  for (std::size_t i = 0; i < bytes.size();) {
    const std::size_t length = utf8_length(bytes, i);
    const auto byte = static_cast<unsigned char>(bytes[i]);
    if (length == 0 || byte < 0x20 || byte == 0x7F) {
      text += fmt::format("%{:02X}", byte);
      ++i;
    } else {
      text += bytes.substr(i, length);
      i += length;
    }
  }
  return text;
}

Result<std::string> library_path(const std::string& layout, const store::LibraryFrame& f, const std::string& name) {
  const bool of_sky = f.kind == FrameKind::kLight || f.kind == FrameKind::kUnknown;
  const std::map<std::string, std::string> words = {{"target", of_sky ? as_part(f.target) : "calibration"},
                                                    {"filter", as_part(f.filter)},
                                                    {"night", as_part(f.night)},
                                                    {"kind", std::string(to_string(f.kind))},
                                                    {"camera", as_part(f.camera)},
                                                    {"exposure_s", as_part(number(f.exposure_s, "s"))},
                                                    {"gain", as_part(number(f.gain_setting, ""))},
                                                    {"name", as_part(name)}};
  const auto wrong = [&](const std::string& what) {
    return Error(Code::kInvalidInput, fmt::format("layout '{}': {}; write it like {}", layout, what, kDefaultLayout));
  };
  std::string path;
  bool named = false;
  for (std::size_t i = 0; i <= layout.size();) {
    const std::size_t end = std::min(layout.find('/', i), layout.size());
    std::string part;
    named = false;
    for (std::size_t k = i; k < end;) {
      if (layout[k] != '{') {
        part += layout[k++];
        continue;
      }
      const std::size_t close = layout.find('}', k);
      if (close >= end) return wrong("a brace is not closed");
      const auto word = words.find(layout.substr(k + 1, close - k - 1));
      if (word == words.end()) return wrong("no word " + layout.substr(k, close - k + 1));
      named |= word->first == "name";
      part += word->second;
      k = close + 1;
    }
    if (part.empty() || part.front() == '.') return wrong("a folder without a name, or one that begins with a dot");
    path += (path.empty() ? "" : "/") + cut(part, kLongestPart);
    i = end + 1;
  }
  if (!named) return wrong("the last part must hold {name}");
  return path;
}

std::string numbered(const std::string& path, int n) {
  const std::filesystem::path p(path);
  const std::string number = fmt::format("-{}", n);
  const std::string name = cut(p.filename().string(), kLongestPart - number.size());
  const std::filesystem::path part(name);
  return (p.parent_path() / (part.stem().string() + number + part.extension().string())).string();
}

}  // namespace ng::app
