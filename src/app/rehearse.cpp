#include "app/rehearse.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <map>
#include <memory>
#include <span>

#include "app/data_folder.h"
#include "app/rehearse_files.h"
#include "app/rehearse_scenario.h"
#include "app/rehearse_truth.h"
#include "base/parallel.h"
#include "catalog/star_file.h"
#include "io/atomic_file.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

// Everything that this run has written; taken away again unless the run ends well, so that no part of a night is left.
class Written {
 public:
  explicit Written(std::size_t files) : done_(files, 0) {}
  Written(const Written&) = delete;
  Written& operator=(const Written&) = delete;
  ~Written() {
    std::error_code ignored;
    for (std::size_t i = 0; i < paths_.size(); ++i)
      if (done_[i] != 0) fs::remove(paths_[i], ignored);
    for (auto folder = folders_.rbegin(); folder != folders_.rend(); ++folder)
      fs::remove(*folder, ignored);  // only when empty
  }
  void plan(std::vector<fs::path> paths) { paths_ = std::move(paths); }
  void mark(std::size_t index) { done_[index] = 1; }  // from any thread, each its own index
  Result<void> make_folder(const fs::path& folder) {
    std::error_code error;
    for (fs::path p = folder; !p.empty() && !fs::exists(p, error); p = p.parent_path())
      folders_.insert(folders_.begin(), p);
    fs::create_directories(folder, error);
    if (error) return Error(Code::kIo, fmt::format("cannot make the folder {}: {}", folder.string(), error.message()));
    return {};
  }
  void keep() {
    paths_.clear();
    folders_.clear();
  }

 private:
  std::vector<fs::path> paths_;
  std::vector<char> done_;
  std::vector<fs::path> folders_;
};

Result<std::unique_ptr<catalog::StarFile>> open_catalogue(const std::string& choice) {
  if (choice == "none") return std::unique_ptr<catalog::StarFile>();
  fs::path path = choice;
  if (choice.empty()) {
    NG_TRY(path, built_in_star_catalogue());
  }
  NG_TRY(catalog::StarFile file, catalog::StarFile::open(path));
  return std::make_unique<catalog::StarFile>(std::move(file));
}

Result<void> nothing_in_the_way(const std::vector<fs::path>& paths) {
  std::error_code ignored;
  const auto there =
      std::count_if(paths.begin(), paths.end(), [&](const fs::path& p) { return fs::exists(p, ignored); });
  if (there == 0) return {};
  const auto first =
      std::find_if(paths.begin(), paths.end(), [&](const fs::path& p) { return fs::exists(p, ignored); });
  return Error(Code::kExists,
               fmt::format("{} is there already{}: nothing is overwritten; choose another folder", first->string(),
                           there > 1 ? fmt::format(", and {} more of this night's files", there - 1) : ""));
}

Result<void> write_text(const fs::path& path, const std::string& text) {
  NG_TRY(io::AtomicFile file, io::AtomicFile::create(path, io::Overwrite::kRefuse));
  NG_CHECK(file.write_at(0, std::as_bytes(std::span(text))));
  return file.commit();
}

std::vector<RehearseCount> counts_of(const simulate::Night& night, const std::vector<RehearsedFrame>& frames) {
  std::vector<RehearseCount> counts;
  for (const RehearsedFrame& frame : frames) {
    const bool filtered = frame.kind == FrameKind::kLight || frame.kind == FrameKind::kFlat;
    const std::string filter = filtered && !night.scenario().is_mosaic()
                                   ? night.scenario().filters[static_cast<std::size_t>(frame.filter)].filter.name
                                   : "";
    const std::string kind(to_string(frame.kind));
    auto known = std::find_if(counts.begin(), counts.end(),
                              [&](const RehearseCount& c) { return c.kind == kind && c.filter == filter; });
    if (known == counts.end()) known = counts.insert(counts.end(), {kind, filter, 0});
    ++known->frames;
  }
  return counts;
}

}  // namespace

Result<RehearseReply> rehearse(const RehearseRequest& request, const Context& ctx) {
  const auto begun = std::chrono::steady_clock::now();
  NG_TRY(const simulate::Scenario scenario, scenario_of(request));
  NG_TRY(const std::unique_ptr<catalog::StarFile> catalogue, open_catalogue(request.catalogue));
  NG_TRY(const simulate::Night night, simulate::Night::prepare(scenario, catalogue.get(), ctx));

  const std::vector<RehearsedFrame> frames = frames_of(night);
  std::vector<fs::path> paths;
  for (const RehearsedFrame& frame : frames) paths.push_back(request.out / frame.path);
  std::map<int, std::size_t> truth_images;  // filter -> its first light
  if (request.truth_images)
    for (std::size_t i = 0; i < frames.size(); ++i)
      if (frames[i].light >= 0) truth_images.emplace(frames[i].filter, i);
  const std::size_t first_image = paths.size();
  for (const auto& [filter, index] : truth_images)
    paths.push_back(*request.truth_images /
                    fmt::format("noiseless_{}.fits", scenario.filters[static_cast<std::size_t>(filter)].filter.name));
  const std::size_t truth_index = paths.size();
  paths.push_back(request.out / "truth.json");
  NG_CHECK(nothing_in_the_way(paths));

  Written written(paths.size());
  written.plan(paths);
  NG_CHECK(written.make_folder(request.out));
  for (const fs::path& path : paths) NG_CHECK(written.make_folder(path.parent_path()));

  ctx.begin("taking frames", static_cast<std::int64_t>(truth_index));
  const Result<void> taken = parallel_for(ctx, static_cast<int>(frames.size()), [&](int i) -> Result<void> {
    const auto index = static_cast<std::size_t>(i);
    NG_CHECK(write_frame(night, frames[index], request.out, ctx.serial()));
    written.mark(index);
    ctx.advance();
    return {};
  });
  NG_CHECK(taken);
  std::size_t image = first_image;
  for (const auto& [filter, index] : truth_images) {
    NG_CHECK(write_truth_image(night, frames[index], paths[image], ctx));
    written.mark(image++);
    ctx.advance();
  }
  NG_CHECK(write_text(paths[truth_index], truth_of(night, frames).dump() + "\n"));
  written.keep();

  RehearseReply reply;
  reply.folder = request.out.string();
  reply.truth = paths[truth_index].string();
  for (std::size_t i = first_image; i < truth_index; ++i) reply.truth_images.push_back(paths[i].string());
  for (const RehearsedFrame& frame : frames) reply.frames.push_back(frame.path.generic_string());
  reply.counts = counts_of(night, frames);
  reply.width = scenario.camera.sensor.width;
  reply.height = scenario.camera.sensor.height;
  reply.stars = static_cast<int>(night.stars().size());
  reply.catalogue_stars =
      static_cast<int>(std::count_if(night.stars().begin(), night.stars().end(), [](const simulate::FieldStar& s) {
        return s.origin == simulate::StarOrigin::kCatalogue;
      }));
  reply.exposure_s = scenario.exposures.light_s;
  reply.scale_arcsec_px = scenario.scale_arcsec_px();
  reply.seed = scenario.seed;
  reply.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  return reply;
}

}  // namespace ng::app
