#include "app/library_export.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "app/export_list.h"
#include "app/library_folder.h"
#include "app/library_layout.h"
#include "app/library_products.h"
#include "app/library_target.h"
#include "app/sensor_result.h"
#include "app/verified_copy.h"
#include "base/stopwatch.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

// What goes: frames with the hash that they came home with, all else with that of now.
class Packing {
 public:
  Packing(const LibraryFolder& library, const Context& ctx) : library_(library), ctx_(ctx) {}

  void add_frames(const std::vector<store::LibraryFrame>& frames) {
    for (const store::LibraryFrame& f : frames) {
      if (f.kind == FrameKind::kLight || f.kind == FrameKind::kUnknown) {
        lights_.insert(f.hash);
        cameras_.insert(f.camera);
      }
      frames_.insert(f.hash);
      list.files.push_back({"frames/" + f.path, f.hash, f.bytes});
    }
  }

  // Masters made of one of the lights, pictures made of one of those masters, masters of calibration frames of which
  // every one goes along, and what was measured of the lights' cameras.
  Result<void> add_products(std::vector<std::string>& notes) {
    NG_TRY(const FoundProducts masters, find_products(library_.workspace, "masters", ctx_));
    NG_TRY(const FoundProducts pictures, find_products(library_.workspace, "pictures", ctx_));
    NG_TRY(const FoundProducts sensors, find_products(library_.workspace, kSensorFolder, ctx_));
    std::set<std::string> chosen;
    for (const store::MasterRecord& m : masters.products.masters) {
      if (!made_of(m.recipe, lights_)) continue;
      chosen.insert(m.hash);
      NG_CHECK(add_product(m.path));
    }
    for (const store::CalibrationMasterRecord& m : masters.products.calibration)
      if (std::all_of(m.recipe.inputs.begin(), m.recipe.inputs.end(),
                      [&](const store::RecipeInputRecord& input) { return frames_.contains(input.hash); }))
        NG_CHECK(add_product(m.path));
    for (const store::PictureRecord& p : pictures.products.pictures)
      if (made_of(p.recipe, chosen)) NG_CHECK(add_product(p.path));
    for (const store::SensorRecord& s : sensors.products.sensors)
      if (!s.camera.empty() && cameras_.contains(s.camera)) NG_CHECK(add(library_.workspace / s.path));
    for (const auto* found : {&masters, &pictures, &sensors})
      for (const std::string& line : found->left_out) notes.push_back("left out: " + line);
    return {};
  }

  // Where a master lies on the sky is found with them.
  Result<void> add_catalogues() {
    for (const fs::path& file : files_below(library_.workspace / "catalogues"))
      if (file.extension() == ".ngsky") NG_CHECK(add(file));
    return {};
  }

  ExportList list;

 private:
  static bool made_of(const store::RecipeRecord& recipe, const std::set<std::string>& hashes) {
    return std::any_of(recipe.inputs.begin(), recipe.inputs.end(),
                       [&](const store::RecipeInputRecord& input) { return hashes.contains(input.hash); });
  }

  Result<void> add_product(const std::string& path) {
    for (const fs::path& file : files_of_product(library_.workspace / path)) NG_CHECK(add(file));
    return {};
  }

  Result<void> add(const fs::path& file) {
    const std::string path = file.lexically_relative(library_.workspace).generic_string();
    if (readable(path) != path) return Error(Code::kInvalidInput, readable(path) + ": its name is no UTF-8: rename it");
    if (!added_.insert(path).second) return {};
    NG_TRY(const std::string hash, hash_file(file, ctx_.serial()));
    std::error_code ignored;
    list.files.push_back({path, hash, static_cast<std::int64_t>(fs::file_size(file, ignored))});
    return {};
  }

  const LibraryFolder& library_;
  const Context& ctx_;
  std::set<std::string> lights_, frames_, cameras_, added_;
};

class Export {
 public:
  Export(const LibraryFolder& library, const fs::path& to, LibraryExportReply& reply, const Context& ctx)
      : library_(library), to_(to), reply_(reply), ctx_(ctx) {}

  Result<void> take(const ExportEntry& file) {
    const fs::path to = to_ / file.path;
    std::error_code error;
    if (fs::exists(fs::symlink_status(to, error))) {
      const auto there = hash_file(to, ctx_);
      if (!there.ok() && there.error().code() == Code::kCancelled) return there.error();
      if (there.ok() && *there == file.hash) {
        ++reply_.there_already;
      } else {
        failed(file, "another file has that name in the export: choose an empty folder");
      }
      return {};
    }
    fs::create_directories(to.parent_path(), error);
    if (error) return io::system_error("cannot make the folder " + io::quoted(to.parent_path()), error.value());
    NG_TRY(VerifiedCopy made, copy_verified(library_.workspace / file.path, to, ctx_));
    if (!made.file) {
      failed(file, made.unreadable);
    } else if (made.hash != file.hash) {
      failed(file, "it is not what came home: `nightglass library check` tells more");
    } else {
      NG_CHECK(made.file->commit());
      ++reply_.copied;
    }
    return {};
  }

 private:
  void failed(const ExportEntry& file, const std::string& reason) {
    reply_.failed.push_back({file.path, readable(reason)});
  }
  const LibraryFolder& library_;
  const fs::path& to_;
  LibraryExportReply& reply_;
  const Context& ctx_;
};

}  // namespace

Result<LibraryExportReply> export_target(const LibraryExportRequest& request, const Context& ctx) {
  const Stopwatch watch;
  NG_TRY(const LibraryFolder library, find_library(request.workspace));
  for (const char* part : {"frames", "masters", "pictures", "sensors", "catalogues"})
    if (one_inside_other(request.to, library.workspace / part))
      return Error(Code::kInvalidInput,
                   fmt::format("{}: that is the workspace itself, or in a folder of its own: choose "
                               "a folder beside it",
                               io::quoted(request.to)));
  NG_TRY(const store::LibraryIndex index, store::LibraryIndex::open(library.index));
  NG_TRY(const auto frames, target_frames(index, request.target));
  LibraryExportReply reply;
  Packing packing(library, ctx);
  packing.list.target = request.target;
  packing.add_frames(frames);
  NG_CHECK(packing.add_products(reply.notes));
  NG_CHECK(packing.add_catalogues());
  const ExportList& list = packing.list;

  std::error_code error;
  fs::create_directories(request.to, error);
  if (error) return io::system_error("cannot make the folder " + io::quoted(request.to), error.value());
  std::int64_t missing = 0;
  for (const ExportEntry& f : list.files) {
    reply.bytes += f.bytes;
    if (!fs::exists(request.to / f.path, error)) missing += f.bytes;
  }
  NG_CHECK(check_room(request.to, missing));
  ctx.begin(fmt::format("copying {:.1f} GB", static_cast<double>(reply.bytes) / 1e9), reply.bytes);
  Export work(library, request.to, reply, ctx);
  for (const ExportEntry& f : list.files) NG_CHECK(work.take(f));
  if (reply.failed.empty()) NG_CHECK(write_export(request.to, list));
  reply.counts = list.counts();
  reply.seconds = watch.seconds();
  return reply;
}

}  // namespace ng::app
