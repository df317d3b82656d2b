#include <cstring>

#include "app/text_file.h"
#include "server/answers.h"
#include "server/server_parts.h"

namespace ng::server {

using httplib::Request;
using httplib::Response;

namespace {

namespace fs = std::filesystem;

}  // namespace

Result<std::shared_ptr<app::Picture>> Server::Parts::picture(const Request& request) {
  NG_TRY(const fs::path path, reader.path(request.get_param_value("path"), "path"));
  const std::string word = request.get_param_value("layer");
  app::PictureLayer layer = app::PictureLayer::kValue;
  if (!word.empty()) NG_CHECK(reader.read(app::Json(word), "layer", layer));
  return shelf.open(path, layer, Context{});
}

void Server::Parts::serve_pictures() {
  http.Get("/api/picture", [this](const Request& request, Response& response) {
    answer(response, [&]() -> Result<app::Json> {
      NG_TRY(const auto shown, picture(request));
      return app::to_json(shown->facts());
    }());
  });
  http.Get("/api/picture/probe", [this](const Request& request, Response& response) {
    answer(response, [&]() -> Result<app::Json> {
      NG_TRY(const auto shown, picture(request));
      NG_TRY(const int x, whole_number(request, "x"));
      NG_TRY(const int y, whole_number(request, "y"));
      NG_TRY(const app::PixelProbe probe, shown->probe(x, y));
      return app::to_json(probe);
    }());
  });
  http.Get("/api/picture/tile", [this](const Request& request, Response& response) {
    const auto tile = [&]() -> Result<Image<float>> {
      NG_TRY(const auto shown, picture(request));
      NG_TRY(const int level, whole_number(request, "level"));
      NG_TRY(const int column, whole_number(request, "column"));
      NG_TRY(const int row, whole_number(request, "row"));
      NG_TRY(const int plane, whole_number(request, "plane"));
      return shown->tile(level, column, row, plane);
    }();
    if (!tile.ok()) return answer(response, Result<app::Json>(tile.error()));
    const auto row_bytes = sizeof(float) * static_cast<std::size_t>(tile->width());
    std::string bytes(row_bytes * static_cast<std::size_t>(tile->height()), '\0');
    for (int y = 0; y < tile->height(); ++y)
      std::memcpy(bytes.data() + row_bytes * static_cast<std::size_t>(y), tile->plane().row(y), row_bytes);
    response.set_header("X-Width", std::to_string(tile->width()));
    response.set_header("X-Height", std::to_string(tile->height()));
    response.set_header("Cache-Control", "no-cache");
    response.set_content(std::move(bytes), "application/octet-stream");
  });
  http.Get("/api/file", [this](const Request& request, Response& response) {
    const auto path = reader.path(request.get_param_value("path"), "path");
    if (!path.ok()) return answer(response, Result<app::Json>(path.error()));
    const std::string kind = path->extension().string();
    const char* type = kind == ".png"                             ? "image/png"
                       : kind == ".jpg"                           ? "image/jpeg"
                       : kind == ".tif"                           ? "image/tiff"
                       : path->string().ends_with(".recipe.toml") ? "text/plain; charset=utf-8"
                                                                  : nullptr;
    if (type == nullptr)
      return refuse(response, 400, "only finished pictures, .png, .jpg and .tif, and their recipes are given");
    auto bytes = app::read_text(*path);
    if (!bytes.ok()) return answer(response, Result<app::Json>(bytes.error()));
    response.set_header("Cache-Control", "no-cache");
    response.set_content(*std::move(bytes), type);
  });
}

}  // namespace ng::server
