#include "app/sharp_master.h"

#include <fmt/format.h>

#include <cmath>
#include <memory>

#include "app/master_cards.h"
#include "app/stack_input.h"
#include "app/text_file.h"
#include "io/fits_writer.h"
#include "io/open_frame.h"
#include "measure/field_profile.h"
#include "reduce/stack/proper.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

std::vector<io::FitsCard> sharp_cards(const MasterInput& input, const reduce::ProfileSize& profile) {
  std::vector<io::FitsCard> cards = master_cards(input);
  for (io::FitsCard& card : cards)
    if (card.name == "IMAGETYP") card.comment = "proper coaddition of registered lights";
  cards.push_back({"PROFFWHM", profile.fwhm_px, "px, of the profile in the middle, pixel included"});
  cards.push_back({"PROFAREA", profile.noise_area_px, "px, noise-equivalent area of the profile"});
  const auto history = [&](const std::string& text) { cards.push_back({"HISTORY", text, ""}); };
  history("proper coaddition (Zackay & Ofek 2017, ApJ 836, 188), from " + input.path.filename().string());
  history("noise is white: independent from pixel to pixel, of the stated variance");
  history("stars and sky keep their flux; the profile has its own shape, the same for bright and faint stars");
  return cards;
}

Json profile_of(const FieldProfile& p) {
  return {{"beta", p.beta}, {"x0", p.x0},   {"y0", p.y0},  {"size", p.size},
          {"sxx", p.sxx},   {"sxy", p.sxy}, {"syy", p.syy}};
}

}  // namespace

fs::path sharp_path(const fs::path& master) {
  return master.parent_path() / "sharp" / master.filename();
}

Result<SharpMaster> write_sharp_master(const MasterInput& input, const ReduceMaster& ordinary,
                                       const ReduceRequest& request, io::Overwrite overwrite, const Context& ctx) {
  const reduce::StackOptions options = stack_options(input, request);
  const std::vector<reduce::StackFrame> frames = stack_frames(input);
  std::vector<FieldProfile> profiles;
  for (const Light* light : input.lights) profiles.push_back(measure::field_profile(light->stars, light->profile));

  SharpMaster result;
  const fs::path path = sharp_path(input.path);
  result.path = path.string();
  std::error_code error;
  fs::create_directories(path.parent_path(), error);
  if (error)
    return Error(Code::kIo,
                 fmt::format("{}: the folder cannot be made ({})", path.parent_path().string(), error.message()));

  const reduce::ProfileSize profile = reduce::proper_profile(frames, profiles, options);
  result.fwhm_px = profile.fwhm_px;
  result.noise_area_px = profile.noise_area_px;

  NG_TRY(io::FitsWriter writer, io::FitsWriter::create(path, overwrite));
  io::FitsImageSpec spec;
  spec.width = options.width;
  spec.height = options.height;
  spec.planes = options.planes;
  spec.cards = sharp_cards(input, profile);
  NG_TRY(const int image_hdu, writer.add_image(spec));
  const auto extension = [&](const char* name, const std::string& unit) {
    io::FitsImageSpec e = spec;
    e.name = name;
    e.cards = {{"BUNIT", unit, ""}};
    return writer.add_image(e);
  };
  NG_TRY(const int variance_hdu, extension("VARIANCE", ordinary.unit + "2"));
  NG_TRY(const int coverage_hdu, extension("COVERAGE", "s"));
  NG_TRY(const int rejected_hdu, extension("REJECTED", "frames"));

  NG_TRY(const std::unique_ptr<FrameSource> master, io::open_frame(input.path));
  double variance_sum = 0, pixels = 0;
  ctx.begin(
      fmt::format("coadding {}",
                  input.scale_references.front()->filter.empty() ? "lights" : input.scale_references.front()->filter),
      options.height);
  const int measured = options.planes == 3 ? 1 : 0;
  const auto deliver = [&](const reduce::ProperBand& band) -> Result<void> {
    NG_CHECK(writer.write_rows(image_hdu, band.plane, band.y0, band.image));
    NG_CHECK(writer.write_rows(variance_hdu, band.plane, band.y0, band.variance));
    NG_CHECK(writer.write_rows(coverage_hdu, band.plane, band.y0, band.coverage));
    NG_CHECK(writer.write_rows(rejected_hdu, band.plane, band.y0, band.outliers));
    for (int y = 0; y < band.variance.height && band.plane == measured; ++y)
      for (int x = 0; x < band.variance.width; ++x)
        if (const float v = band.variance.row(y)[x]; std::isfinite(v)) variance_sum += v, ++pixels;
    return {};
  };
  auto counts = reduce::coadd_properly(frames, profiles, options, *master, deliver, ctx);
  if (!counts.ok()) return std::move(counts).error().in(path.filename().string());
  NG_CHECK(writer.commit());
  result.rejected_share = counts->values > 0 ? counts->outliers / counts->values : 0;
  if (pixels > 0) result.noise_e = std::sqrt(variance_sum / pixels);

  Json recipe = input.recipe;
  recipe["method"] = "proper coaddition";
  for (std::size_t j = 0; j < profiles.size(); ++j) recipe["lights"][j]["profile"] = profile_of(profiles[j]);
  recipe["master"] = to_json(result);
  NG_CHECK(write_text(master_recipe_path(path), recipe.dump(2) + "\n", overwrite));
  return result;
}

}  // namespace ng::app
