#include "server/openapi.h"

#include "app/message_schema.h"
#include "app/picture_view.h"
#include "server/jobs.h"

namespace ng::server {
namespace {

using app::Json;
using app::MessageSide;

Json json_body(const Json& schema) {
  return {{"application/json", {{"schema", schema}}}};
}
Json answers(const Json& schema) {
  return {{"200", {{"description", "done"}, {"content", json_body(schema)}}},
          {"default", {{"$ref", "#/components/responses/error"}}}};
}
Json parameter(const char* name, const char* in, const Json& schema, bool required = true) {
  return {{"name", name}, {"in", in}, {"required", required}, {"schema", schema}};
}
Json bytes(const char* type) {
  return {{"200",
           {{"description", "done"}, {"content", {{type, {{"schema", {{"type", "string"}, {"format", "binary"}}}}}}}}},
          {"default", {{"$ref", "#/components/responses/error"}}}};
}

const Json kText{{"type", "string"}}, kWhole{{"type", "integer"}};

template <typename T>
Json reply_of() {
  return app::json_schema<T>(MessageSide::kReply);
}

void add_pictures(Json& paths) {
  const Json path = parameter("path", "query", kText);
  const Json layer = parameter("layer", "query", app::json_schema<app::PictureLayer>(MessageSide::kRequest), false);
  paths["/api/picture"]["get"] = {{"summary", "facts of an image of the workspace"},
                                  {"parameters", Json::array({path, layer})},
                                  {"responses", answers(reply_of<app::PictureFacts>())}};
  Json tile = Json::array({path, layer});
  for (const char* name : {"level", "column", "row", "plane"}) tile.push_back(parameter(name, "query", kWhole));
  paths["/api/picture/tile"]["get"] = {
      {"summary", "float32, little-endian, row by row; its size is in X-Width and X-Height"},
      {"parameters", tile},
      {"responses", bytes("application/octet-stream")}};
  paths["/api/picture/probe"]["get"] = {
      {"summary", "one pixel with its uncertainty"},
      {"parameters", Json::array({path, parameter("x", "query", kWhole), parameter("y", "query", kWhole)})},
      {"responses", answers(reply_of<app::PixelProbe>())}};
  paths["/api/file"]["get"] = {{"summary", "a finished picture, or its recipe"},
                               {"parameters", Json::array({path})},
                               {"responses", bytes("image/*")}};
}

void add_jobs(Json& paths) {
  const Json id = Json::array({parameter("id", "path", kWhole)});
  const Json job = reply_of<JobView>();
  paths["/api/jobs"]["get"] = {
      {"summary", "all jobs, the newest first, without requests and replies"},
      {"responses", answers({{"type", "object"}, {"properties", {{"jobs", {{"type", "array"}, {"items", job}}}}}})}};
  paths["/api/jobs/{id}"]["get"] = {{"summary", "one job whole"}, {"parameters", id}, {"responses", answers(job)}};
  paths["/api/jobs/{id}/events"]["get"] = {{"summary", "its news as server-sent events \"job\", until it has ended"},
                                           {"parameters", id},
                                           {"responses", bytes("text/event-stream")}};
  paths["/api/jobs/{id}/cancel"]["post"] = {{"summary", "stops it"},
                                            {"parameters", id},
                                            {"requestBody", {{"content", json_body({{"type", "object"}})}}},
                                            {"responses", answers({{"type", "object"}})}};
}

}  // namespace

Json openapi(const std::vector<Route>& routes) {
  Json paths = Json::object();
  for (const Route& route : routes) {
    const Json reply = route.job ? Json{{"type", "object"}, {"properties", {{"id", kWhole}}}, {"required", {"id"}}}
                                 : route.reply_schema;
    Json post{{"summary", route.job ? "begins a job; its reply, later, is x-job-reply" : route.name},
              {"requestBody", {{"content", json_body(route.request_schema)}}},
              {"responses", answers(reply)}};
    if (route.job) post["x-job-reply"] = route.reply_schema;
    paths[(route.job ? "/api/jobs/" : "/api/") + route.name]["post"] = std::move(post);
  }
  add_jobs(paths);
  add_pictures(paths);
  paths["/api/pair"]["post"] = {
      {"summary", "the code that the terminal shows becomes a token, kept as a cookie"},
      {"requestBody",
       {{"content",
         json_body({{"type", "object"}, {"properties", {{"code", kText}}}, {"additionalProperties", false}})}}},
      {"responses", answers({{"type", "object"}})}};
  const Json error{{"type", "object"}, {"properties", {{"error", kText}}}, {"required", {"error"}}};
  return {{"openapi", "3.1.0"},
          {"info", {{"title", "nightglass"}, {"version", "1"}, {"summary", "paths are those of the workspace"}}},
          {"paths", paths},
          {"components",
           {{"responses",
             {{"error", {{"description", "one sentence: what, where, what to do"}, {"content", json_body(error)}}}}}}}};
}

}  // namespace ng::server
