// write_types   prints the TypeScript declarations of every service: web/src/api/services.ts.
#include <fmt/format.h>

#include <cctype>
#include <string>

#include "app/message_types.h"
#include "app/picture_view.h"
#include "server/jobs.h"
#include "server/routes.h"

namespace {

using ng::app::MessageSide;
using ng::app::type_script;

// "night-band" -> "NightBand".
std::string type_name(const std::string& service) {
  std::string name;
  bool upper = true;
  for (const char c : service) {
    if (c == '-') {
      upper = true;
      continue;
    }
    name += upper ? static_cast<char>(std::toupper(static_cast<unsigned char>(c))) : c;
    upper = false;
  }
  return name;
}

}  // namespace

int main() {
  fmt::print("// Written by write_types from the declarations of the services; do not edit.\n\n");
  const auto routes = ng::server::make_routes(".");
  for (const auto& route : routes) {
    const std::string name = type_name(route.name);
    fmt::print("export type {}Request = {};\n", name, route.request_type);
    fmt::print("export type {}Reply = {};\n\n", name, route.reply_type);
  }
  fmt::print("export type Job = {};\n", type_script<ng::server::JobView>(MessageSide::kReply));
  fmt::print("export type PictureFacts = {};\n", type_script<ng::app::PictureFacts>(MessageSide::kReply));
  fmt::print("export type PixelProbe = {};\n\n", type_script<ng::app::PixelProbe>(MessageSide::kReply));
  for (const bool job : {false, true}) {
    fmt::print("export interface {} {{\n", job ? "LongServices" : "Services");
    for (const auto& route : routes)
      if (route.job == job)
        fmt::print("  '{}': {{ request: {}Request; reply: {}Reply }};\n", route.name, type_name(route.name),
                   type_name(route.name));
    fmt::print("}}\n{}", job ? "" : "\n");
  }
  return 0;
}
