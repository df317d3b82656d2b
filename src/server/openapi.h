// server/openapi.h - the services as an OpenAPI 3.1 document, from the declarations of their requests and replies.
#pragma once

#include <vector>

#include "app/message.h"
#include "server/routes.h"

namespace ng::server {

[[nodiscard]] app::Json openapi(const std::vector<Route>& routes);

}  // namespace ng::server
