#include "app/reduce.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <map>
#include <set>
#include <tuple>

#include "app/calibration_set.h"
#include "app/calibration_wish.h"
#include "app/earlier_frames.h"
#include "app/frame_memories.h"
#include "app/frames_sheet.h"
#include "app/input_frames.h"
#include "app/library_products.h"
#include "app/library_target.h"
#include "app/light_frames.h"
#include "app/master_file.h"
#include "app/measure_store.h"
#include "app/night_air.h"
#include "app/outdated_sharp.h"
#include "app/reduce_recipe.h"
#include "app/reduce_report.h"
#include "app/register_lights.h"
#include "app/scale_lights.h"
#include "app/sharp_master.h"
#include "app/solve_master.h"
#include "app/stage_clock.h"
#include "app/workspace.h"
#include "base/parallel.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

// Lights that make one master: one filter, one number of colours.
using GroupKey = std::pair<std::string, int>;

class Reduction {
 public:
  Reduction(const ReduceRequest& request, const Context& ctx) : request_(request), ctx_(ctx) {}

  Result<ReduceReply> run() {
    NG_CHECK(request_.drizzle.validate());
    if (request_.sharp && request_.drizzle.scale != 1)
      return Error(Code::kInvalidInput,
                   "a sharp master lies on the grid of the ordinary one at scale 1; leave out --sharp or --scale");
    NG_CHECK(prepare_out());
    clock_.begin("headers and hashes");
    NG_CHECK(collect());
    if (request_.add) NG_CHECK(take_earlier());
    sort_lights();
    if (lights_.empty()) return Error(Code::kNotFound, no_lights_sentence());
    NG_CHECK(refuse_existing());
    clock_.begin("calibration masters");
    NG_CHECK(calibrate());
    clock_.begin("measuring lights");
    NG_CHECK(measure());
    clock_.begin("registration");
    NG_TRY(const MasterGrid grid, register_lights(lights_, request_.extent, light_places(request_, ctx_), ctx_));
    reply_.reference = lights_[grid.reference].input->path.string();
    tell(grid_notes(grid));
    clock_.begin("astrometric solution");
    NG_TRY(place_, solve_masters(lights_, grid, request_, ctx_));
    tell(place_.notes);
    clock_.begin("integration");
    NG_CHECK(write_masters(grid));
    clock_.begin("report");
    enter_products(recipes_, reply_.notes, ctx_);
    if (!request_.target.empty()) tell(outside_note(request_));
    report();
    describe_air(reply_);
    reply_.stages = clock_.take();
    return std::move(reply_);
  }

 private:
  Result<void> prepare_out() {
    std::error_code error;
    if (fs::exists(request_.out, error) && fs::equivalent(request_.out, request_.folder, error))
      return Error(Code::kInvalidInput,
                   fmt::format("{}: the masters must go into another folder than the frames", request_.out.string()));
    return {};
  }

  Result<void> collect() {
    if (request_.target.empty()) {
      NG_TRY(inputs_, collect_frames(request_.folder, request_.out, ctx_));
      return {};
    }
    NG_TRY(const TargetFiles target, target_files(request_.workspace, request_.target));
    for (const fs::path& measures : target.measures) store_.add_file(measures);
    return add_frames(target.frames, inputs_, ctx_);
  }

  // With --add: the frames of the masters that are there, and what was measured of them.
  Result<void> take_earlier() {
    NG_TRY(const std::vector<EarlierFrame> earlier, earlier_frames(request_.out));
    std::set<std::string> here;
    for (const InputFrame& f : inputs_) here.insert(f.hash);
    std::vector<fs::path> paths;
    std::map<std::string, const EarlierFrame*> expected;
    for (const EarlierFrame& f : earlier) {
      if (here.contains(f.hash)) continue;
      paths.push_back(f.path);
      expected[f.path.string()] = &f;
    }
    NG_CHECK(add_frames(paths, inputs_, ctx_));
    for (const InputFrame& f : inputs_) {
      const auto found = expected.find(f.path.string());
      if (found != expected.end() && found->second->hash != f.hash)
        return Error(Code::kInvalidInput,
                     fmt::format("{}: is not what it was when {} was written; reduce all frames anew", f.path.string(),
                                 found->second->master));
    }
    store_.add_folder(request_.out);
    return {};
  }

  void sort_lights() {
    settle_unknown_kinds();
    for (InputFrame& f : inputs_) {
      if (!f.usable() || f.kind != FrameKind::kLight) continue;
      Light light;
      light.input = &f;
      light.bayer = f.facts().planes == 1 ? (f.facts().bayer ? f.facts().bayer : request_.bayer) : std::nullopt;
      light.planes = light.bayer || f.facts().planes == 3 ? 3 : 1;
      light.filter = f.facts().filter;
      lights_.push_back(std::move(light));
    }
    // In the order in which they were taken, wherever their files lie: sums then come out the same.
    std::stable_sort(lights_.begin(), lights_.end(), [](const Light& a, const Light& b) {
      const auto key = [](const Light& l) {
        return std::tuple(l.input->facts().start.has_value() ? l.input->facts().start->iso() : std::string(),
                          l.input->path.filename().string(), l.input->hash);
      };
      return key(a) < key(b);
    });
  }

  // Files that do not say what they are: where no other says so, they are the lights.
  void settle_unknown_kinds() {
    const bool lights_known = std::any_of(
        inputs_.begin(), inputs_.end(), [](const InputFrame& f) { return f.usable() && f.kind == FrameKind::kLight; });
    std::string first;
    int taken = 0;
    for (InputFrame& f : inputs_) {
      if (!f.usable() || f.kind != FrameKind::kUnknown) continue;
      if (lights_known) {
        f.reason = "does not say what it is, in header or name, while other files say that they are lights";
        continue;
      }
      f.kind = FrameKind::kLight;
      if (taken++ == 0) first = f.path.filename().string();
    }
    if (taken > 0)
      reply_.notes.push_back(
          fmt::format("{} of {} files, {} the first, do not say what they are, in header or name: taken as lights",
                      taken, inputs_.size(), first));
  }

  [[nodiscard]] std::string no_lights_sentence() const {
    std::map<std::string, int> counts;
    for (const InputFrame& f : inputs_) ++counts[f.usable() ? std::string(to_string(f.kind)) : "unreadable or double"];
    std::string text;
    for (const auto& [kind, n] : counts) text += fmt::format("{}{} {}", text.empty() ? "" : ", ", n, kind);
    std::string first;
    for (const InputFrame& f : inputs_)
      if (!f.reason.empty() && first.empty()) first = fmt::format("; {}: {}", f.path.filename().string(), f.reason);
    return fmt::format("{}: no lights among its {} files ({}){}", request_.folder.string(), inputs_.size(), text,
                       first);
  }

  std::map<GroupKey, std::vector<Light*>> groups() {
    std::map<GroupKey, std::vector<Light*>> result;
    for (Light& light : lights_)
      if (light.accepted()) result[{light.filter, light.planes}].push_back(&light);
    return result;
  }

  // All lights that were meant for a master, in the order of their files.
  [[nodiscard]] std::vector<const Light*> lights_of(const GroupKey& key) const {
    std::vector<const Light*> lights;
    for (const Light& light : lights_)
      if (GroupKey{light.filter, light.planes} == key) lights.push_back(&light);
    return lights;
  }

  // Adding replaces the masters by fuller ones.
  [[nodiscard]] io::Overwrite overwrite() const { return request_.add ? io::Overwrite::kReplace : request_.overwrite; }
  [[nodiscard]] static fs::path measures_path(fs::path master) { return master.replace_extension(".measures.cbor"); }
  [[nodiscard]] static fs::path sheet_path(fs::path master) { return master.replace_extension(".frames.png"); }

  // The object that most lights name.
  [[nodiscard]] std::string object() const {
    std::map<std::string, int> counts;
    for (const Light& light : lights_) ++counts[light.input->facts().object];
    std::string best;
    int most = 0;
    for (const auto& [name, n] : counts)
      if (n > most && !name.empty()) best = name, most = n;
    return best;
  }

  fs::path path_of(const GroupKey& key) const {
    return request_.out / (master_name(object(), key.first, key.second) + ".fits");
  }

  // Before any work: hours later is too late to say it.
  Result<void> refuse_existing() {
    for (const auto& [key, group] : groups()) {
      std::error_code error;
      std::vector<fs::path> paths{path_of(key), sheet_path(path_of(key)), measures_path(path_of(key))};
      if (request_.sharp) paths.push_back(sharp_path(path_of(key)));
      for (const fs::path& path : paths)
        if (overwrite() == io::Overwrite::kRefuse && fs::exists(path, error))
          return Error(Code::kExists,
                       fmt::format("{} exists already; choose another --out, or allow replacing with --overwrite",
                                   path.string()));
    }
    std::error_code error;
    fs::create_directories(request_.out, error);
    if (error)
      return Error(Code::kIo,
                   fmt::format("{}: the folder cannot be made ({})", request_.out.string(), error.message()));
    return {};
  }

  Result<void> calibrate() {
    for (Light& light : lights_) {
      NG_TRY(light.calibration, shelf_.for_light(*light.input, ctx_));
    }
    enter_products(shelf_.keep(), reply_.notes, ctx_);
    reply_.masters_kept = shelf_.masters_kept();
    NG_CHECK(shelf_.release(ctx_));
    shelf_.explain_unused();
    NG_CHECK(map_defects_from_lights(lights_, light_defects_, ctx_));
    std::vector<std::string> used;
    for (const InputFrame& f : inputs_)
      if (shelf_.used(f)) used.push_back(f.hash);
    std::sort(used.begin(), used.end());
    const std::string calibration = fmt::format("{}", fmt::join(used, " "));
    for (Light& light : lights_) light.measure_key = measure_key(light, calibration);
    return {};
  }

  // Frames side by side, as many as the memory budget holds: each needs its picture and what is found on it.
  Result<void> measure() {
    std::size_t pixels = 1;
    for (const Light& light : lights_)
      pixels = std::max(pixels, static_cast<std::size_t>(light.input->facts().width) * light.input->facts().height);
    // Of each pixel: its value, two masks, and what is kept of those that stand out of the sky.
    constexpr std::size_t kBytesPerPixel = 8;
    FrameMemories memories(std::clamp<std::size_t>(ctx_.memory_budget_bytes / 2 / (pixels * kBytesPerPixel), 1, 64));
    std::atomic<int> kept = 0;
    ctx_.begin("measuring lights", static_cast<std::int64_t>(lights_.size()));
    NG_CHECK(parallel_for(ctx_, static_cast<int>(lights_.size()), [&](int i) -> Result<void> {
      Light& light = lights_[static_cast<std::size_t>(i)];
      if (store_.fill(light)) {
        ++kept;
        settle_noise(light);
        ctx_.advance();
        return {};
      }
      FrameMemory memory = memories.take();
      auto result = measure_light(light, memory, ctx_.serial());
      memories.give_back(std::move(memory));
      ctx_.advance();
      if (result.ok() || result.error().code() == Code::kCancelled) return result;
      light.reason = result.error().message();  // one broken frame does not stop the night
      return {};
    }));
    reply_.measures_kept = kept;
    tell(noise_notes(lights_));
    return {};
  }

  Result<void> write_masters(const MasterGrid& grid) {
    for (auto& [key, group] : groups()) {
      MasterInput input;
      input.path = path_of(key);
      input.scale_references = bring_group_to_scale(group, request_);
      input.width = grid.width;
      input.height = grid.height;
      input.feather_px = grid.feather_px;
      input.place = place_;
      for (const Light* light : group)
        if (light->accepted()) input.lights.push_back(light);
      input.recipe =
          master_recipe(request_, reply_.reference, input.lights, lights_of(key), calibration_used(), shelf_.masters());
      for (const Light* light : lights_of(key)) input.recipe["frames"].push_back(to_json(frame_of(*light)));
      NG_TRY(ReduceMaster master, write_master(input, request_, overwrite(), reply_.notes, ctx_));
      const fs::path sheet = sheet_path(input.path);
      NG_CHECK(draw_frames_sheet(sheet, lights_of(key), master, overwrite()));
      NG_CHECK(save_measures(measures_path(input.path), lights_of(key), overwrite()));
      master.frames_sheet = sheet.string();
      if (request_.sharp) {
        NG_TRY(master.sharp, write_sharp_master(input, master, request_, overwrite(), ctx_));
        recipes_.push_back(master_recipe_path(sharp_path(input.path)));
      } else if (const auto outdated = outdated_sharp(input.path)) {
        reply_.notes.push_back(outdated->path.string() + ": " + outdated->why);
      }
      reply_.masters.push_back(std::move(master));
      recipes_.push_back(master_recipe_path(input.path));
    }
    return {};
  }

  void tell(const std::vector<std::string>& notes) {
    reply_.notes.insert(reply_.notes.end(), notes.begin(), notes.end());
  }

  [[nodiscard]] std::vector<const InputFrame*> calibration_used() const {
    std::vector<const InputFrame*> used;
    for (const InputFrame& f : inputs_)
      if (shelf_.used(f)) used.push_back(&f);
    return used;
  }

  void report() {
    std::map<const InputFrame*, const Light*> light_of;
    for (const Light& light : lights_) light_of[light.input] = &light;
    for (const InputFrame& f : inputs_) {
      ReduceFrame line = frame_line(f, shelf_.used(f));
      if (const auto found = light_of.find(&f); found != light_of.end()) describe_light(*found->second, request_, line);
      reply_.frames.push_back(std::move(line));
    }
  }

  // As it stands in the recipe of its master.
  [[nodiscard]] ReduceFrame frame_of(const Light& light) const {
    ReduceFrame line = frame_line(*light.input, false);
    line.path = fs::absolute(light.input->path).lexically_normal().string();
    describe_light(light, request_, line);
    return line;
  }

  const ReduceRequest& request_;
  const Context& ctx_;
  ReduceReply reply_;
  StageClock clock_;
  MasterPlace place_;
  std::vector<fs::path> recipes_;  // beside the masters that were written
  MeasureStore store_;             // of the target in the library, and of the masters that frames are added to
  std::vector<InputFrame> inputs_;
  std::vector<Light> lights_;
  CalibrationShelf shelf_{inputs_, request_, reply_.notes};
  std::vector<Image<std::uint8_t>> light_defects_;
};

// From the library: tolerances of calibration.toml, where the request has the usual ones.
Result<ReduceRequest> with_own_tolerances(ReduceRequest request) {
  if (request.target.empty()) return request;
  NG_TRY(const Workspace workspace, open_workspace(request.workspace));
  NG_TRY(const CalibrationWish wish, read_calibration_wish(workspace.folder));
  const ReduceRequest usual;
  const auto take = [](double& value, double unchanged, double wished) {
    if (value == unchanged) value = wished;
  };
  take(request.exposure_tolerance, usual.exposure_tolerance, wish.tolerance.exposure_share);
  take(request.temperature_tolerance_c, usual.temperature_tolerance_c, wish.tolerance.temperature_c);
  take(request.rotation_tolerance_deg, usual.rotation_tolerance_deg, wish.tolerance.rotation_deg);
  return request;
}

}  // namespace

Result<ReduceReply> reduce(const ReduceRequest& request, const Context& ctx) {
  const auto start = std::chrono::steady_clock::now();
  NG_TRY(const ReduceRequest complete, with_own_tolerances(request));
  Reduction reduction(complete, ctx);
  NG_TRY(ReduceReply reply, reduction.run());
  reply.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  return reply;
}

}  // namespace ng::app
