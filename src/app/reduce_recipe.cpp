#include "app/reduce_recipe.h"

#include <algorithm>
#include <filesystem>

#include "app/message.h"
#include "app/stack_input.h"
#include "reduce/stack/drizzle.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

// How a frame's own picture is bent (math/bend.h), for the recipe; null where it is flat.
Json bend_json(const math::PlaneMap& map) {
  if (!map.bent()) return nullptr;
  const math::Bend& bend = *map.from();
  return {{"centre", {bend.centre().x, bend.centre().y}}, {"size", bend.size()}, {"x", bend.x()}, {"y", bend.y()}};
}

}  // namespace

std::string to_string(Extent extent) {
  return extent == Extent::kAuto ? "auto" : extent == Extent::kAll ? "all" : "reference";
}

math::PlaneMap onto_master(const Light& light, const ReduceRequest& request) {
  return request.drizzle.scale == 1 ? light.to_master
                                    : reduce::to_drizzled(request.drizzle.scale).after(light.to_master);
}

Json master_recipe(const ReduceRequest& request, const std::string& reference, const std::vector<const Light*>& used,
                   const std::vector<const Light*>& offered, const std::vector<const InputFrame*>& calibration,
                   const std::vector<CalibrationMaster>& masters) {
  Json recipe;
  recipe["program"] = "nightglass";
  recipe["options"] = {{"kappa", request.kappa},
                       {"exposure_tolerance", request.exposure_tolerance},
                       {"temperature_tolerance_c", request.temperature_tolerance_c},
                       {"rotation_tolerance_deg", request.rotation_tolerance_deg},
                       {"max_fwhm_ratio", request.max_fwhm_ratio},
                       {"weights_for", request.aim == reduce::Aim::kPoint ? "point" : "extended"},
                       {"min_weight", request.min_weight},
                       {"extent", to_string(request.extent)},
                       {"solve", request.solve},
                       {"drizzle", to_string(request.drizzle.choice)},
                       {"scale", request.drizzle.scale}};
  if (request.drizzle.pixfrac) recipe["options"]["pixfrac"] = *request.drizzle.pixfrac;
  recipe["grid"] = reference;
  if (std::any_of(used.begin(), used.end(), [](const Light* light) { return light->bayer.has_value(); })) {
    const reduce::ColourBalance balance = colour_balance(used);
    recipe["demosaicing"] = {{"red", balance.red}, {"blue", balance.blue}};
  }
  recipe["lights"] = Json::array();
  for (const Light* light : used) {
    Json scales = Json::array();
    for (std::size_t p = 0; p < static_cast<std::size_t>(light->planes); ++p) {
      const reduce::SkySurface& sky = light->scales[p].sky;
      scales.push_back({{"scale", light->scales[p].scale},
                        {"noise", light->scales[p].noise},
                        {"weight", light->scales[p].weight},
                        {"sky", {{"c", sky.c}, {"x0", sky.x0}, {"y0", sky.y0}, {"size", sky.size}}}});
    }
    recipe["lights"].push_back({{"path", fs::absolute(light->input->path).lexically_normal().string()},
                                {"xxh3_128", light->input->hash},
                                {"zero", light->calibration.zero},
                                {"flat", light->calibration.flat},
                                {"to_master", onto_master(*light, request).plane().coefficients()},
                                {"bend", bend_json(onto_master(*light, request))},
                                {"worth", light->worth},
                                {"planes", scales}});
  }
  recipe["left_out"] = Json::array();
  for (const Light* light : offered)
    if (!light->accepted())
      recipe["left_out"].push_back({{"path", fs::absolute(light->input->path).lexically_normal().string()},
                                    {"xxh3_128", light->input->hash},
                                    {"worth", light->worth},
                                    {"reason", light->reason}});
  recipe["calibration"] = Json::array();
  for (const InputFrame* f : calibration)
    recipe["calibration"].push_back({{"path", fs::absolute(f->path).lexically_normal().string()},
                                     {"kind", to_string(f->kind)},
                                     {"xxh3_128", f->hash}});
  recipe["calibration_masters"] = Json::array();
  for (const CalibrationMaster& m : masters)
    recipe["calibration_masters"].push_back(
        {{"kind", m.kind}, {"frames", m.frames}, {"version", m.version}, {"key", m.key}});
  return recipe;
}

}  // namespace ng::app
