#include "app/finish.h"

#include <fmt/format.h>

#include <span>

#include "app/finish_masters.h"
#include "app/finish_steps.h"
#include "app/library_products.h"
#include "app/recipe.h"
#include "app/recipe_beside.h"
#include "finish/srgb.h"
#include "io/atomic_file.h"
#include "io/picture_writer.h"

namespace ng::app {
namespace {

// Refused now, not after the work.
Result<void> check_free(const std::filesystem::path& path, bool overwrite) {
  std::error_code failure;
  if (!overwrite && std::filesystem::exists(path, failure))
    return Error(Code::kExists,
                 fmt::format("{} is there already: choose another name, or allow it with --overwrite", path.string()));
  return {};
}

Result<void> check_output(const FinishRequest& request) {
  std::string extension = request.out.extension().string();
  for (char& c : extension) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  constexpr std::array kKnown = {".png", ".tif", ".tiff", ".jpg", ".jpeg"};
  if (std::find(kKnown.begin(), kKnown.end(), extension) == kKnown.end())
    return Error(Code::kUnsupported,
                 fmt::format("cannot write {}: pictures are .png, .tif or .jpg", request.out.string()));
  NG_CHECK(check_free(request.out, request.overwrite));
  return check_free(recipe_path(request.out), request.overwrite);
}

void note_other_inputs(const Recipe& recipe, const std::vector<RecipeInput>& inputs, Notes& notes) {
  for (const RecipeInput& input : inputs) {
    bool same = recipe.inputs.empty();
    for (const RecipeInput& before : recipe.inputs) same = same || before.xxh128 == input.xxh128;
    if (!same) notes.push_back(fmt::format("{} is not a file that the recipe was written for", input.path));
  }
}

Result<std::vector<Image<std::uint16_t>>> encode(std::vector<Image<float>> planes, const Context& ctx) {
  std::vector<Image<std::uint16_t>> encoded;
  for (Image<float>& plane : planes) {
    encoded.emplace_back(plane.width(), plane.height());
    NG_CHECK(finish::encode_srgb16(plane.plane(), encoded.back().plane(), ctx));
    plane = {};
  }
  return encoded;
}

Result<void> write_recipe(const std::filesystem::path& path, const Recipe& recipe, io::Overwrite overwrite) {
  const std::string text = format_recipe(recipe);
  NG_TRY(auto file, io::AtomicFile::create(path, overwrite));
  NG_CHECK(file.write_at(0, std::as_bytes(std::span(text))));
  return file.commit();
}

std::vector<FinishStep> steps_of(const Recipe& recipe) {
  std::vector<FinishStep> steps;
  Recipe::steps(recipe, [&](const auto& step) {
    FinishStep entry{step.kName, step.on, Json::object()};
    std::decay_t<decltype(step)>::fields(
        step, [&](const char* key, const auto& value, const RecipeKey&) { entry.values[key] = to_json(value); });
    steps.push_back(std::move(entry));
  });
  return steps;
}

}  // namespace

Result<FinishReply> finish_picture(const FinishRequest& request, const Context& ctx) {
  NG_CHECK(check_output(request));
  Recipe recipe;
  if (request.recipe) {
    NG_TRY(recipe, read_recipe(*request.recipe));
  }
  NG_CHECK(change_recipe(recipe, request.changes));
  std::vector<std::filesystem::path> paths = request.masters;
  if (paths.empty())
    for (const RecipeInput& input : recipe.inputs) paths.emplace_back(input.path);
  NG_TRY(const MasterSet masters, MasterSet::open(paths, ctx));

  FinishReply reply;
  FinishFound found;
  if (request.recipe) note_other_inputs(recipe, masters.inputs(), reply.notes);
  recipe.inputs = masters.inputs();
  NG_TRY(const Region region, crop_region(recipe.crop, masters, ctx));
  NG_TRY(std::vector<Channel> channels, masters.load(region, reply.notes, ctx));

  ctx.begin("finishing", 7);
  NG_CHECK(remove_background(recipe.background, channels, found, reply.notes, ctx));
  ctx.advance();
  NG_TRY(Layers layers, assign_channels(recipe.channels, std::move(channels), reply.notes));
  NG_CHECK(balance_colours(recipe.balance, layers, found, reply.notes, ctx));
  ctx.advance();
  NG_CHECK(repair_cores(recipe.cores, layers, found));
  ctx.advance();
  NG_TRY(std::vector<Image<float>> planes, merge_layers(recipe.noise, std::move(layers), ctx));
  ctx.advance();
  NG_CHECK(tone(recipe.tone, planes, found, ctx));
  ctx.advance();
  NG_TRY(const auto encoded, encode(std::move(planes), ctx));
  ctx.advance();

  std::vector<View<const std::uint16_t>> views;
  for (const auto& plane : encoded) views.push_back(plane.plane());
  const auto overwrite = request.overwrite ? io::Overwrite::kReplace : io::Overwrite::kRefuse;
  if (ctx.cancelled()) return Error(Code::kCancelled, "stopped on request");
  NG_CHECK(write_recipe(recipe_path(request.out), recipe, overwrite));
  const io::PictureOptions options{recipe.encode.bits, recipe.encode.jpeg_quality, overwrite};
  auto written = io::write_picture(request.out, views, options);
  if (!written.ok()) {
    std::error_code ignored;
    if (!request.overwrite) std::filesystem::remove(recipe_path(request.out), ignored);  // ours, of a moment ago
    return std::move(written).error();
  }
  ctx.advance();

  enter_products({recipe_path(request.out)}, reply.notes, ctx);
  reply.path = request.out.string();
  reply.recipe = recipe_path(request.out).string();
  reply.width = region.width;
  reply.height = region.height;
  reply.planes = static_cast<int>(encoded.size());
  for (const RecipeInput& input : recipe.inputs) reply.inputs.push_back({input.path, input.filter, input.xxh128});
  reply.steps = steps_of(recipe);
  reply.measured = {found.sky_share,  found.background_scatter_e, found.red_error,
                    found.blue_error, found.balance_stars,        found.cores,
                    found.sky_e,      found.sky_noise_e};
  return reply;
}

}  // namespace ng::app
