#include "app/message_read.h"

#include <fmt/format.h>

namespace ng::app {

namespace fs = std::filesystem;

Error MessageReader::wrong(const Json& json, const std::string& key, const std::string& wanted) {
  std::string there = json.dump(-1, ' ', true, Json::error_handler_t::replace);
  if (there.size() > 40) there = there.substr(0, 37) + "...";
  return {Code::kInvalidInput, fmt::format("{} is {}: give {}", key.empty() ? "the request" : key, there, wanted)};
}

Error MessageReader::unknown(const std::string& key, const std::string& names) {
  return {Code::kInvalidInput, fmt::format("there is no field {}; the fields are {}", key, names)};
}

Result<fs::path> MessageReader::path(const std::string& text, const std::string& key) const {
  const auto refuse = [&](const char* why) {
    return Error(Code::kInvalidInput, fmt::format("{} is '{}': {}", key, text, why));
  };
  if (text.empty() || text.find('\0') != std::string::npos) return refuse("name a file or folder of the workspace");
  const fs::path given(text);
  if (given.is_absolute()) return refuse("give a path relative to the workspace");
  // Links are followed before it is looked at: none may lead out.
  std::error_code error;
  const fs::path root = fs::weakly_canonical(root_, error);
  if (error) return refuse("the workspace cannot be read");
  const fs::path whole = fs::weakly_canonical(root / given, error);
  if (error) return refuse("it cannot be looked at");
  const fs::path within = whole.lexically_relative(root);
  if (within.empty() || *within.begin() == "..") return refuse("it lies outside of the workspace");
  return whole;
}

}  // namespace ng::app
