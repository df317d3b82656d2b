// server/answers.h - how requests are read and answered, whatever they ask.
#pragma once

#include <httplib.h>

#include <string>

#include "app/message.h"
#include "base/result.h"

namespace ng::server {

void answer(httplib::Response& response, int status, const app::Json& json);
// {"error": why}
void refuse(httplib::Response& response, int status, const std::string& why);
// 200 with the value; 404 where something was not found, else 400 with the sentence.
void answer(httplib::Response& response, const Result<app::Json>& result);

// An empty body is an empty object. Errors: kInvalidInput.
[[nodiscard]] Result<app::Json> body_of(const httplib::Request& request);
// A whole number among the parameters of the address. Errors: kInvalidInput.
[[nodiscard]] Result<int> whole_number(const httplib::Request& request, const char* name);

}  // namespace ng::server
