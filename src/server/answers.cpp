#include "server/answers.h"

#include <fmt/format.h>

#include <charconv>

#include "server/packed.h"

namespace ng::server {

using httplib::Request;
using httplib::Response;

namespace {

// Reading and writing go as deep as the text: no request of ours is deeper than a handful.
bool too_deep(const std::string& text) {
  constexpr int kDeepest = 32;
  int depth = 0;
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted && c == '\\') ++i;
    if (c == '"') quoted = !quoted;
    if (quoted) continue;
    if ((c == '[' || c == '{') && ++depth > kDeepest) return true;
    if (c == ']' || c == '}') --depth;
  }
  return false;
}

}  // namespace

void answer(Response& response, int status, const app::Json& json) {
  response.status = status;
  response.set_header("Cache-Control", "no-store");
  response.set_content(json.dump(-1, ' ', false, app::Json::error_handler_t::replace), kJsonType);
}

void refuse(Response& response, int status, const std::string& why) {
  answer(response, status, {{"error", why}});
}

void answer(Response& response, const Result<app::Json>& result) {
  if (result.ok()) {
    answer(response, 200, *result);
  } else {
    refuse(response, result.error().code() == Code::kNotFound ? 404 : 400, result.error().message());
  }
}

Result<app::Json> body_of(const Request& request) {
  if (request.body.empty()) return app::Json::object();
  if (too_deep(request.body)) return Error(Code::kInvalidInput, "the body of the request is nested too deeply");
  app::Json json = app::Json::parse(request.body, nullptr, false);
  if (json.is_discarded()) return Error(Code::kInvalidInput, "the body of the request is not JSON");
  return json;
}

Result<int> whole_number(const Request& request, const char* name) {
  const std::string text = request.get_param_value(name);
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size())
    return Error(Code::kInvalidInput, fmt::format("{} is '{}': give a whole number", name, text));
  return value;
}

}  // namespace ng::server
