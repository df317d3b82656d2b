#include "server/routes.h"

#include <chrono>

#include "app/catalogue_import.h"
#include "app/compose.h"
#include "app/expose.h"
#include "app/finish.h"
#include "app/ingest.h"
#include "app/init.h"
#include "app/library.h"
#include "app/library_shelf.h"
#include "app/measure.h"
#include "app/message_read.h"
#include "app/message_schema.h"
#include "app/message_types.h"
#include "app/night_band.h"
#include "app/night_frames.h"
#include "app/picture_annotation.h"
#include "app/pole.h"
#include "app/power.h"
#include "app/recipe_change.h"
#include "app/reduce.h"
#include "app/rehearse.h"
#include "app/request_words.h"
#include "app/schedule.h"
#include "app/sensor.h"
#include "app/settings.h"
#include "app/sky.h"
#include "app/solve.h"
#include "app/tonight.h"
#include "app/workspace_view.h"

namespace ng::server {
namespace {

namespace fs = std::filesystem;

template <typename Request, typename Reply>
using Service = Result<Reply> (*)(const Request&, const Context&);

Instant now() {
  using namespace std::chrono;
  return Instant::from_unix_us(duration_cast<microseconds>(system_clock::now().time_since_epoch()).count());
}

// A file or folder that has to be named and is not; in place of a folder a target may be.
template <typename Request>
std::string missing_path(const Request& request) {
  std::string missing;
  bool targeted = false;
  if constexpr (requires { request.target.empty(); }) targeted = !request.target.empty();
  Request::fields(request, [&]<typename F>(const char* name, const F& field) {
    if constexpr (std::is_same_v<F, fs::path>)
      if (field.empty() && missing.empty() && !(targeted && std::string_view(name) == "folder")) missing = name;
  });
  return missing;
}

template <typename Request, typename Reply>
Route route(const fs::path& workspace, const char* name, Service<Request, Reply> service, bool job = false) {
  return {name,
          job,
          [workspace, service](const app::Json& json, const Context& ctx) -> Result<app::Json> {
            Request request;
            if constexpr (requires { request.at = now(); }) request.at = now();  // as the commands do
            NG_CHECK(app::MessageReader(workspace).read(json, "", request));
            if (const std::string missing = missing_path(request); !missing.empty())
              return Error(Code::kInvalidInput, missing + " is missing: name a file or folder of the workspace");
            if constexpr (requires { request.workspace = workspace; }) request.workspace = workspace;
            NG_TRY(const Reply reply, service(request, ctx));
            return app::to_json(reply);
          },
          app::type_script<Request>(app::MessageSide::kRequest),
          app::type_script<Reply>(app::MessageSide::kReply),
          app::json_schema<Request>(app::MessageSide::kRequest),
          app::json_schema<Reply>(app::MessageSide::kReply)};
}

constexpr bool kJob = true;

}  // namespace

std::vector<Route> make_routes(const fs::path& workspace) {
  return {
      route(workspace, "workspace", app::view_workspace),
      route(workspace, "settings", app::settings),
      route(workspace, "night-band", app::night_band),
      route(workspace, "night-frames", app::night_frames),
      route(workspace, "annotation", app::annotate_picture),
      route(workspace, "recipe", app::view_recipe),
      route(workspace, "library", app::list_library),
      route(workspace, "sky", app::sky_at),
      route(workspace, "tonight", app::tonight),
      route(workspace, "expose", app::expose),
      route(workspace, "compose", app::compose),
      route(workspace, "schedule", app::schedule),
      route(workspace, "power", app::power),
      route(workspace, "init", app::init),
      route(workspace, "rehearse", app::rehearse, kJob),
      route(workspace, "catalogue", app::import_catalogue, kJob),
      route(workspace, "ingest", app::ingest, kJob),
      route(workspace, "measure", app::measure, kJob),
      route(workspace, "solve", app::solve, kJob),
      route(workspace, "pole", app::pole, kJob),
      route(workspace, "sensor", app::sensor, kJob),
      route(workspace, "calibration", app::calibration_shelf, kJob),
      route(workspace, "reduce", app::reduce, kJob),
      route(workspace, "finish", app::finish_picture, kJob),
  };
}

}  // namespace ng::server
