#include <fmt/format.h>

#include <map>

#include "app/calibration_master.h"
#include "app/export_list.h"
#include "app/library_export.h"
#include "app/library_folder.h"
#include "app/library_intake.h"
#include "app/library_layout.h"
#include "app/library_products.h"
#include "app/sensor_result.h"
#include "app/verified_copy.h"
#include "base/stopwatch.h"
#include "io/open_frame.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kFrames = "frames/";

class Import {
 public:
  Import(const LibraryFolder& library, store::LibraryIndex& index, const fs::path& from, const ExportList& list,
         LibraryImportReply& reply, const Context& ctx)
      : library_(library),
        index_(index),
        intake_(library, index, ctx),
        from_(from),
        list_(list),
        reply_(reply),
        ctx_(ctx) {}

  // Recipes below the workspace, beside masters and pictures that are here now.
  [[nodiscard]] const std::vector<fs::path>& recipes() const { return recipes_; }

  Result<void> take(const ExportEntry& entry, const LocalZone& zone) {
    return entry.path.starts_with(kFrames) ? frame(entry, zone) : file(entry);
  }

 private:
  Result<void> frame(const ExportEntry& entry, const LocalZone& zone) {
    const auto opened = io::open_frame(from_ / entry.path);
    if (!opened.ok()) {
      failed(entry, opened.error().message());
      return {};
    }
    Arrival arrival{from_ / entry.path, frame_of((*opened)->facts(), entry.bytes, zone),
                    entry.path.substr(kFrames.size()), entry.hash, false};
    NG_TRY(arrival.maybe_there, index_.has_like(entry.bytes, arrival.frame.start));
    IngestedFile done;
    NG_CHECK(intake_.take(arrival, done));
    NG_CHECK(intake_.finish());
    if (done.status == "failed") {
      failed(entry, done.reason);
      return {};
    }
    count(done.status == "copied");
    if (const std::string now = std::string(kFrames) + done.path; now != entry.path) renamed(entry, now);
    return {};
  }

  // Masters and pictures stay beside their recipes: a whole folder goes where none of its files meets another one of
  // its name. A catalogue is one file.
  Result<void> file(const ExportEntry& entry) {
    const fs::path p(entry.path);
    const bool alone = entry.path.starts_with("catalogues/");
    const std::string parent = p.parent_path().generic_string();
    auto place = places_.find(alone ? entry.path : parent);
    for (int n = 1; place == places_.end(); ++n) {
      const std::string candidate = n == 1  ? (alone ? entry.path : parent)
                                    : alone ? numbered(entry.path, n)
                                            : other(p, n);
      NG_TRY(const bool fits, alone ? fits_at(entry, candidate) : folder_fits(parent, candidate));
      if (fits) place = places_.emplace(alone ? entry.path : parent, candidate).first;
    }
    const std::string path = alone ? place->second : place->second + "/" + p.filename().string();
    if (path.ends_with(".recipe.json") || path.ends_with(".recipe.toml") || path.ends_with(kCalibrationEnding) ||
        path.ends_with(kSensorEnding))
      recipes_.push_back(library_.workspace / path);
    std::error_code error;
    if (!fs::exists(fs::symlink_status(library_.workspace / path, error))) return copy(entry, path);
    count(false);
    if (path != entry.path) renamed(entry, path);
    return {};
  }

  static std::string other(const fs::path& file, int n) {
    const fs::path parent = file.parent_path();
    return parent.has_parent_path() ? fmt::format("{}-{}", parent.generic_string(), n)
                                    : fmt::format("{}/imported-{}", parent.generic_string(), n);
  }

  Result<bool> fits_at(const ExportEntry& entry, const std::string& path) {
    std::error_code error;
    if (!fs::exists(fs::symlink_status(library_.workspace / path, error))) return true;
    const auto there = hash_file(library_.workspace / path, ctx_.serial());
    if (!there.ok() && there.error().code() == Code::kCancelled) return there.error();
    return there.ok() && *there == entry.hash;
  }

  Result<bool> folder_fits(const std::string& parent, const std::string& candidate) {
    for (const ExportEntry& f : list_.files) {
      const fs::path p(f.path);
      if (p.parent_path().generic_string() != parent) continue;
      NG_TRY(const bool fits, fits_at(f, candidate + "/" + p.filename().string()));
      if (!fits) return false;
    }
    return true;
  }

  Result<void> copy(const ExportEntry& entry, const std::string& path) {
    const fs::path to = library_.workspace / path;
    std::error_code error;
    fs::create_directories(to.parent_path(), error);
    if (error) return io::system_error("cannot make the folder " + io::quoted(to.parent_path()), error.value());
    NG_TRY(VerifiedCopy made, copy_verified(from_ / entry.path, to, ctx_));
    if (!made.file) {
      failed(entry, made.unreadable);
    } else if (made.hash != entry.hash) {
      failed(entry, kNotWhatItWas);
    } else {
      NG_CHECK(made.file->commit());
      count(true);
      if (path != entry.path) renamed(entry, path);
    }
    return {};
  }

  void count(bool copied) { ++(copied ? reply_.copied : reply_.there_already); }
  void failed(const ExportEntry& entry, const std::string& reason) {
    reply_.failed.push_back({entry.path, readable(reason)});
  }
  void renamed(const ExportEntry& entry, const std::string& now) { reply_.renamed.push_back({entry.path, now}); }

  const LibraryFolder& library_;
  store::LibraryIndex& index_;
  Intake intake_;
  const fs::path& from_;
  const ExportList& list_;
  LibraryImportReply& reply_;
  const Context& ctx_;
  std::vector<fs::path> recipes_;
  std::map<std::string, std::string> places_;  // folder, or catalogue, of the export -> where it goes
};

}  // namespace

Result<LibraryImportReply> import_target(const LibraryImportRequest& request, const Context& ctx) {
  const Stopwatch watch;
  NG_TRY(const LibraryFolder library, find_library(request.workspace));
  NG_TRY(const LocalZone zone, LocalZone::find(library.time_zone));
  NG_TRY(const ExportList list, read_export(request.from));
  NG_TRY(const io::FileDescriptor lock, lock_library(library));
  NG_TRY(store::LibraryIndex index, store::LibraryIndex::open(library.index));
  std::int64_t total = 0, needed = 0;
  for (const ExportEntry& f : list.files) {
    total += f.bytes;
    NG_TRY(const auto known, index.by_hash(f.hash));
    if (!known) needed += f.bytes;
  }
  NG_CHECK(check_room(library.frames, needed));

  LibraryImportReply reply;
  reply.target = list.target;
  reply.counts = list.counts();
  ctx.begin(fmt::format("copying {:.1f} GB", static_cast<double>(total) / 1e9), total);
  Import work(library, index, request.from, list, reply, ctx);
  for (const ExportEntry& f : list.files) NG_CHECK(work.take(f, zone));
  enter_products(work.recipes(), reply.notes, ctx);
  reply.seconds = watch.seconds();
  return reply;
}

}  // namespace ng::app
