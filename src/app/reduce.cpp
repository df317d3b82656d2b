#include "app/reduce.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <chrono>
#include <map>

#include "app/calibration_set.h"
#include "app/library_products.h"
#include "app/library_target.h"
#include "app/light_frames.h"
#include "app/master_file.h"
#include "app/master_paths.h"
#include "app/measure_lights.h"
#include "app/measure_store.h"
#include "app/night_air.h"
#include "app/outdated_sharp.h"
#include "app/reduce_inputs.h"
#include "app/reduce_recipe.h"
#include "app/reduce_report.h"
#include "app/reduce_tolerances.h"
#include "app/register_lights.h"
#include "app/repeat_lights.h"
#include "app/scale_lights.h"
#include "app/sharp_master.h"
#include "app/solve_master.h"
#include "app/sort_lights.h"
#include "app/stage_clock.h"
#include "app/write_master.h"
#include "io/content_hash.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

class Reduction {
 public:
  Reduction(const ReduceRequest& request, const Context& ctx) : request_(request), ctx_(ctx) {}

  Result<ReduceReply> run() {
    NG_CHECK(request_.drizzle.validate());
    if (request_.sharp && request_.drizzle.scale != 1)
      return Error(Code::kInvalidInput,
                   "a sharp master lies on the grid of the ordinary one at scale 1; leave out --sharp or --scale");
    NG_CHECK(refuse_frames_folder(request_));
    clock_.begin("headers and hashes");
    NG_TRY(inputs_, reduce_inputs(request_, ctx_));
    NG_TRY(lights_, sort_lights(inputs_.frames, request_, reply_.notes));
    NG_CHECK(prepare_folder(request_, master_paths()));
    clock_.begin("calibration masters");
    NG_CHECK(calibrate());
    clock_.begin("measuring lights");
    NG_TRY(reply_.measures_kept, measure_lights(lights_, inputs_.measures, ctx_));
    tell(noise_notes(lights_));
    tell(pattern_notes(lights_));
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

  [[nodiscard]] fs::path path_of(const GroupKey& key) const { return master_path(request_.out, lights_, key); }

  std::vector<fs::path> master_paths() {
    std::vector<fs::path> paths;
    for (const auto& [key, group] : groups()) paths.push_back(path_of(key));
    return paths;
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
    for (const InputFrame& f : inputs_.frames)
      if (shelf_.used(f)) used.push_back(f.hash);
    std::sort(used.begin(), used.end());
    const std::string calibration = fmt::format("{}", fmt::join(used, " "));
    std::map<const std::uint8_t*, std::string> defects_of;  // many lights share a map
    for (Light& light : lights_) {
      const View<const std::uint8_t> defects = light.calibration.calibration.defects;
      std::string& hash = defects_of[defects.data];
      if (hash.empty()) hash = io::content_hash(defects);
      light.measure_key = measure_key(light, calibration, hash);
    }
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
      NG_CHECK(settle_noise_by_repeats(group, input, request_, ctx_));
      input.recipe =
          master_recipe(request_, reply_.reference, input.lights, lights_of(key), calibration_used(), shelf_.masters());
      for (const Light* light : lights_of(key)) input.recipe["frames"].push_back(to_json(frame_of(*light)));
      NG_TRY(ReduceMaster master,
             write_master(input, lights_of(key), request_, overwrite_of(request_), reply_.notes, ctx_));
      if (request_.sharp) {
        NG_TRY(master.sharp, write_sharp_master(input, master, request_, overwrite_of(request_), ctx_));
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
    for (const InputFrame& f : inputs_.frames)
      if (shelf_.used(f)) used.push_back(&f);
    return used;
  }

  void report() {
    std::map<const InputFrame*, const Light*> light_of;
    for (const Light& light : lights_) light_of[light.input] = &light;
    for (const InputFrame& f : inputs_.frames) {
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
  ReduceInputs inputs_;
  std::vector<Light> lights_;
  CalibrationShelf shelf_{inputs_.frames, request_, reply_.notes};
  std::vector<Image<std::uint8_t>> light_defects_;
};

}  // namespace

Result<ReduceReply> reduce(const ReduceRequest& request, const Context& ctx) {
  const auto start = std::chrono::steady_clock::now();
  NG_TRY(const ReduceRequest complete, with_wished_tolerances(request));
  Reduction reduction(complete, ctx);
  NG_TRY(ReduceReply reply, reduction.run());
  reply.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  return reply;
}

}  // namespace ng::app
