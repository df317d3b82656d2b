#include "app/sensor.h"

#include <fmt/format.h>

#include "app/library_folder.h"
#include "app/library_products.h"
#include "app/sensor_chart.h"
#include "app/sensor_frames.h"
#include "app/sensor_result.h"
#include "app/sensor_rig.h"
#include "app/sensor_setting.h"
#include "app/sensor_verdict.h"
#include "base/stopwatch.h"
#include "io/fits_writer.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

Result<std::vector<InputFrame>> gather(const SensorRequest& request, const Context& ctx) {
  std::vector<InputFrame> frames;
  if (request.folder) {
    NG_TRY(frames, collect_frames(*request.folder, {}, ctx));
  }
  NG_CHECK(add_frames(request.files, frames, ctx));
  if (frames.empty())
    return Error(Code::kInvalidInput, "no frames are named: give bias, dark and flat files, or --folder FOLDER");
  return frames;
}

// Every file that will be written, looked at before the work begins.
Result<void> nothing_in_the_way(const SensorRequest& request) {
  if (request.overwrite == io::Overwrite::kReplace) return {};
  std::error_code ignored;
  for (const auto& path : {request.chart, request.defects})
    if (path && fs::exists(*path, ignored))
      return Error(Code::kExists,
                   fmt::format("{} is there already: choose another name, or --overwrite", path->string()));
  return {};
}

Result<Image<std::uint8_t>> join_maps(std::vector<MeasuredSetting>& settings) {
  Image<std::uint8_t> all;
  for (const MeasuredSetting& s : settings) {
    const auto map = s.defects.plane();
    if (map.empty()) continue;
    if (all.empty()) {
      all = s.defects.clone();
      continue;
    }
    if (map.width != all.width() || map.height != all.height())
      return Error(Code::kInvalidInput,
                   "the frames are of more than one size: one map of defects is of one sensor at one "
                   "binning; name its frames alone");
    for (int y = 0; y < map.height; ++y)
      for (int x = 0; x < map.width; ++x) all.plane()(x, y) = static_cast<std::uint8_t>(all.plane()(x, y) | map(x, y));
  }
  if (all.empty()) return Error(Code::kTooFew, "no bias frames: no map of defects");
  return all;
}

Result<void> write_map(const fs::path& path, View<const std::uint8_t> map, const std::string& camera,
                       io::Overwrite overwrite) {
  NG_TRY(io::FitsWriter writer, io::FitsWriter::create(path, overwrite));
  io::FitsImageSpec spec;
  spec.width = map.width;
  spec.height = map.height;
  spec.pixel = io::FitsPixel::kUint16;
  spec.cards = {{"IMAGETYP", std::string("Defect Map"), "1 hot, 2 cold, 4 unsteady, added up"},
                {"INSTRUME", camera, "camera"}};
  NG_TRY(const int hdu, writer.add_image(spec));
  Image<std::uint16_t> row(map.width, 1);
  for (int y = 0; y < map.height; ++y) {
    std::copy(map.row(y), map.row(y) + map.width, row.plane().row(0));
    NG_CHECK(writer.write_rows(hdu, 0, y, std::as_const(row).plane()));
  }
  return writer.commit();
}

// A file for each setting, which the index then knows.
Result<void> keep_in_library(const fs::path& workspace, const std::vector<SensorResult>& results, SensorReply& reply,
                             const Context& ctx) {
  std::vector<fs::path> files;
  for (const SensorResult& result : results) {
    NG_TRY(fs::path file, write_sensor_result(workspace / kSensorFolder, result));
    reply.kept.push_back(file.string());
    files.push_back(std::move(file));
  }
  enter_products(files, reply.notes, ctx);
  return {};
}

}  // namespace

Result<SensorReply> sensor(const SensorRequest& request, const Context& ctx) {
  const Stopwatch watch;
  NG_CHECK(nothing_in_the_way(request));
  std::optional<LibraryFolder> library;
  if (request.into_library) {
    NG_TRY(library, find_library(request.workspace));
  }
  NG_TRY(std::vector<InputFrame> frames, gather(request, ctx));
  const std::vector<SensorGroup> groups = sort_sensor_frames(frames, request.temperature_tolerance_c);
  SensorReply reply;
  for (const InputFrame& f : frames)
    if (!f.reason.empty()) reply.left_out.push_back(f.path.string() + ": " + f.reason);
  if (groups.empty())
    return Error(Code::kTooFew, "none of the files is a raw bias, dark or flat frame: " +
                                    (reply.left_out.empty() ? "nothing was named" : reply.left_out.front()));
  std::vector<MeasuredSetting> measured;
  std::vector<SensorResult> results;
  for (const SensorGroup& group : groups) {
    NG_TRY(MeasuredSetting one, measure_setting(frames, group, request, ctx));
    reply.settings.push_back(one.figures);
    results.push_back(sensor_result(frames, group, one.figures, request));
    measured.push_back(std::move(one));
  }
  reply.verdict = sensor_verdict(reply.settings, request.sub_s);
  if (request.defects) {
    NG_TRY(const auto map, join_maps(measured));
    NG_CHECK(write_map(*request.defects, map.plane(), reply.settings.front().camera, request.overwrite));
    reply.defects = request.defects->string();
  }
  if (request.chart) {
    NG_CHECK(draw_sensor_chart(reply, *request.chart, request.overwrite));
    reply.chart = request.chart->string();
  }
  if (request.into_rig) NG_CHECK(write_sensor_to_rig(request.workspace, reply));
  if (library) NG_CHECK(keep_in_library(library->workspace, results, reply, ctx));
  reply.seconds = watch.seconds();
  return reply;
}

}  // namespace ng::app
