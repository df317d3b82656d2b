#include "app/master_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "app/master_cards.h"
#include "app/stack_input.h"
#include "io/fits_writer.h"
#include "math/robust.h"
#include "reduce/single/demosaic_noise.h"
#include "reduce/stack/drizzle.h"
#include "reduce/stack/integrate.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

float sampled_median(View<const float> image) {
  std::vector<float> values;
  const int stride = std::max(1, image.height / 400);
  for (int y = 0; y < image.height; y += stride)
    for (int x = y % 3; x < image.width; x += 3)
      if (std::isfinite(image(x, y))) values.push_back(image(x, y));
  return values.empty() ? 0 : math::median(std::span<float>(values));
}

void copy_rows(View<const float> from, View<float> to) {
  for (int y = 0; y < from.height; ++y) std::copy_n(from.row(y), from.width, to.row(y));
}

}  // namespace

std::string master_name(const std::string& object, const std::string& filter, int planes) {
  std::string name = object.empty() ? "master" : object;
  name += "_" + (filter.empty() ? std::string(planes == 3 ? "colour" : "mono") : filter);
  std::string clean;
  for (const char c : name) {
    const bool keep = std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '-' || c == '+';
    if (keep) {
      clean += c;
    } else if (!clean.empty() && clean.back() != '_') {
      clean += '_';
    }
  }
  while (!clean.empty() && clean.back() == '_') clean.pop_back();
  return clean;
}

fs::path master_recipe_path(const fs::path& master) {
  return fs::path(master).replace_extension(".recipe.json");
}

Result<StackedMaster> stack_master(const MasterInput& input, const ReduceRequest& request, io::Overwrite overwrite,
                                   std::vector<std::string>& notes, const Context& ctx) {
  const Light& reference = *input.scale_references.front();
  reduce::StackOptions options = stack_options(input, request);

  ReduceMaster result;
  result.path = input.path.string();
  result.filter = reference.filter;
  result.solution = input.place.told;
  result.frames_used = static_cast<int>(input.lights.size());
  for (const Light* light : input.lights) {
    const double exposure_s = light->input->source->facts().exposure_s.value_or(0);
    result.exposure_s += exposure_s;
    result.equivalent_min += light->worth * exposure_s / 60;
  }
  const std::vector<reduce::StackFrame> frames = stack_frames(input);
  const bool electrons = gain_known(input);
  result.unit = electrons ? "electron" : "adu";
  if (!electrons)
    result.flags.push_back(
        "no file states electrons per ADU: values are in ADU, photon noise of bright pixels is a guess");
  if (input.lights.size() < 3)
    result.flags.push_back("fewer than 3 frames: cosmic rays and trails cannot be told from the sky");

  const DrizzlePlan plan = plan_drizzle(frames, options, request.drizzle);
  if (plan.drizzled) {
    result.pixfrac = plan.pixfrac;
    result.scale = plan.scale;
    result.noise_correlation = plan.cover.noise_correlation;
    result.unevenness = plan.cover.unevenness;
    if (!plan.note.empty()) result.flags.push_back(plan.note);
  } else if (!plan.note.empty()) {
    notes.push_back(fmt::format("{}: {}", input.path.filename().string(), plan.note));
  }

  NG_TRY(io::FitsWriter writer, io::FitsWriter::create(input.path, overwrite));
  io::FitsImageSpec spec;
  spec.width = plan.drizzled ? reduce::drizzled_size(options.width, plan.scale) : options.width;
  spec.height = plan.drizzled ? reduce::drizzled_size(options.height, plan.scale) : options.height;
  spec.planes = options.planes;
  spec.cards = master_cards(input, plan.drizzled ? plan.scale : 1);
  if (plan.drizzled) {
    spec.cards.push_back({"PIXFRAC", plan.pixfrac, "side of the drops in pixels of a frame (drizzle)"});
    spec.cards.push_back({"OUTSCALE", plan.scale, "side of a pixel in those of the reference (drizzle)"});
    spec.cards.push_back({"NOISECOR", reduce::noise_correlation(plan.pixfrac, plan.scale),
                          "noise of wide areas over pixels' own, even dithers"});
  }
  spec.cards.push_back(
      {"HISTORY", std::string("variance is that of single pixels; resampling correlates neighbours"), ""});
  NG_TRY(const int image_hdu, writer.add_image(spec));
  const auto extension = [&](const char* name, const char* unit) {
    io::FitsImageSpec e = spec;
    e.name = name;
    e.cards = {{"BUNIT", std::string(unit), ""}};
    return writer.add_image(e);
  };
  NG_TRY(const int variance_hdu, extension("VARIANCE", electrons ? "electron2" : "adu2"));
  NG_TRY(const int coverage_hdu, extension("COVERAGE", "s"));
  NG_TRY(const int rejected_hdu, extension("REJECTED", "frames"));

  const int measured = options.noise_plane;
  Image<float> master(spec.width, spec.height);
  std::vector<float> variances;
  ctx.begin(fmt::format("{} {}", plan.drizzled ? "drizzling" : "integrating",
                        result.filter.empty() ? "lights" : result.filter),
            options.height);
  const auto deliver = [&](const reduce::StackBand& band) -> Result<void> {
    NG_CHECK(writer.write_rows(image_hdu, band.plane, band.y0, band.mean));
    NG_CHECK(writer.write_rows(variance_hdu, band.plane, band.y0, band.variance));
    NG_CHECK(writer.write_rows(coverage_hdu, band.plane, band.y0, band.coverage));
    NG_CHECK(writer.write_rows(rejected_hdu, band.plane, band.y0, band.rejected));
    if (band.plane != measured) return {};
    copy_rows(band.mean, master.plane().rows(band.y0, band.mean.height));
    const float middle = sampled_median(band.variance);
    if (middle > 0) variances.push_back(middle);
    return {};
  };
  auto counts = plan.drizzled ? reduce::drizzle(frames, {std::move(options), plan.pixfrac, plan.scale}, deliver, ctx)
                              : reduce::integrate(frames, options, deliver, ctx);
  if (!counts.ok()) return std::move(counts).error().in(input.path.filename().string());
  result.rejected_share = counts->values > 0 ? counts->rejected / counts->values : 0;
  for (const reduce::NoisePoint& p : counts->noise) result.noise_curve.push_back({p.frames, p.noise, p.predicted});
  const bool told = !counts->noise.empty() && counts->noise.back().frames == result.frames_used;
  if (told) {
    result.noise_e = counts->noise.back().noise;
    result.predicted_noise_e = counts->noise.back().predicted;
  } else if (!variances.empty()) {
    result.predicted_noise_e = std::sqrt(math::median(std::span<float>(variances)));
  }
  measure::MeasureOptions measuring;
  measuring.max_stars = 400;
  if (const auto full = saturation_of(input)) measuring.saturation = 0.9 * *full;  // a mean of full and not full
  measuring.electrons_per_unit = static_cast<double>(input.lights.size());
  measuring.noise_correlation = result.noise_correlation.value_or(1);
  if (!plan.drizzled) {
    result.noise_correlation = counts->noise_correlation;
    if (reference.bayer) {  // told as if its pixels were independent
      const double single = frames.front().planes[static_cast<std::size_t>(measured)].demosaiced_variance;
      *result.noise_correlation *= std::sqrt(reduce::demosaic_wide_variance(measured) / single);
    }
  }
  return StackedMaster{std::move(result), told, std::move(writer), std::move(master), measuring};
}

}  // namespace ng::app
