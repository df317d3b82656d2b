#include "app/finish.h"

#include <fmt/format.h>

#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(One colour master, or mono masters on one grid (their filters stand in the headers: L, R, G, B, Ha, OIII ...), as
reduce makes them. Steps, in this order: crop to the part that enough frames have seen; background (a smooth surface
through the sky alone); channels; balance (the mean star of the field becomes neutral); cores of bright stars; noise (by
the variance of every pixel); tone (asinh, colours kept); encode (sRGB).

Beside the picture stands PICTURE.recipe.toml: every step with every value that was used or found, and the hashes of the
masters. Run with it again, the same masters give the same bytes; change a copy of it to change the picture.

A step is changed for this picture alone with --set STEP.KEY=VALUE (null: found from the data), and left out with --without
STEP. The recipe beside the picture names all steps and keys.

Examples:
  nightglass finish master.fits --out picture.png
  nightglass finish L.fits R.fits G.fits B.fits --out picture.tif
  nightglass finish L.fits R.fits G.fits B.fits --out second.jpg --recipe my.toml
  nightglass finish L.fits --out soft.png --set noise.strength=0.9 --without background
  nightglass finish --recipe picture.recipe.toml --out again.png          the masters that the recipe names)";

struct Options {
  std::vector<std::string> masters;
  std::string out, recipe;
  std::vector<std::string> settings, without;
  bool overwrite = false;
};

std::string text_of(const app::FinishReply& r) {
  std::string text =
      fmt::format("{}: {} x {} pixels, {}\n", r.path, r.width, r.height, r.planes == 3 ? "colour" : "grey");
  for (const app::FinishInput& input : r.inputs)
    text += fmt::format("  from {}{}\n", input.path, input.filter.empty() ? "" : " (" + input.filter + ")");
  for (const app::FinishStep& step : r.steps) {
    if (!step.on) {
      text += fmt::format("  {:<11}off\n", step.name);
      continue;
    }
    std::string values;
    for (const auto& [key, value] : step.values.items()) {
      if (value.is_null() || value.is_array() || (value.is_string() && value.get<std::string>().empty())) continue;
      values += (values.empty() ? "" : ", ") + key + " ";
      values += value.is_number_float() ? fmt::format("{:.5g}", value.get<double>())
                : value.is_string()     ? value.get<std::string>()
                                        : value.dump();
    }
    text += fmt::format("  {:<11}{}\n", step.name, values);
  }
  const app::FinishMeasured& m = r.measured;
  if (m.sky_share) text += fmt::format("  {:.0f} % of the field is sky\n", 100 * *m.sky_share);
  if (m.balance_stars)
    text += fmt::format("  balance from {} stars, good to {:.1f} % in red and {:.1f} % in blue\n", *m.balance_stars,
                        100 * m.red_factor_error.value_or(0), 100 * m.blue_factor_error.value_or(0));
  return text + fmt::format("  the recipe: {}\n", r.recipe);
}

Result<std::vector<app::RecipeChange>> changes_of(const Options& o) {
  std::vector<app::RecipeChange> changes;
  for (const std::string& step : o.without) changes.push_back({step, false});
  for (const std::string& setting : o.settings) {
    const auto dot = setting.find('.'), equals = setting.find('=');
    if (dot == std::string::npos || equals == std::string::npos || equals < dot)
      return Error(Code::kInvalidInput, fmt::format("--set {}: write STEP.KEY=VALUE, as tone.saturation=1.4", setting));
    const std::string text = setting.substr(equals + 1);
    app::Json value = app::Json::parse(text, nullptr, false);
    if (value.is_discarded()) value = text;  // a word
    changes.push_back({setting.substr(0, dot), std::nullopt, {{setting.substr(dot + 1, equals - dot - 1), value}}});
  }
  return changes;
}

Result<void> run(const Options& o, const Session& session) {
  app::FinishRequest request;
  request.masters.assign(o.masters.begin(), o.masters.end());
  request.out = o.out;
  if (!o.recipe.empty()) request.recipe = o.recipe;
  request.overwrite = o.overwrite;
  NG_TRY(request.changes, changes_of(o));
  NG_TRY(const app::FinishReply reply, app::finish_picture(request, session.context()));
  for (const std::string& note : reply.notes) session.note("note: " + note);
  if (session.json()) {
    session.print(app::to_json(reply));
  } else {
    session.print(text_of(reply));
  }
  return {};
}

}  // namespace

void add_finish(CLI::App& root, Session& session) {
  const auto options = std::make_shared<Options>();
  CLI::App* command = session.add_command(root, "finish", "Turn masters into a finished picture", kHelp,
                                          [options, &session] { return run(*options, session); });
  command->add_option("masters", options->masters, "Masters (FITS, electrons); may be left out with --recipe")
      ->type_name("MASTER");
  command->add_option("--out", options->out, "The picture: .png, .tif or .jpg")->type_name("PICTURE")->required();
  command->add_option("--recipe", options->recipe, "Steps and settings; without it the program finds them itself")
      ->type_name("FILE.toml");
  command->add_option("--set", options->settings, "A value of a step, STEP.KEY=VALUE; may be given again");
  command->add_option("--without", options->without, "A step that is left out; may be given again");
  command->add_flag("--overwrite", options->overwrite, "Replace the picture and its recipe if they are there");
}

}  // namespace ng::cli
