// server/routes.h - which services answer under which name. A service that has a command has the same name here, the
// same fields and the same reply; to add one is a line in routes.cpp.
#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::server {

struct Route {
  std::string name;
  bool job = false;  // takes longer than a person waits: runs in the background
  std::function<Result<app::Json>(const app::Json& request, const Context& ctx)> run;
  std::string request_type, reply_type;    // in TypeScript (app/message_types.h)
  app::Json request_schema, reply_schema;  // as JSON Schema (app/message_schema.h)
};

[[nodiscard]] std::vector<Route> make_routes(const std::filesystem::path& workspace);

}  // namespace ng::server
