#include "app/sensor.h"

#include <fmt/format.h>

#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(Measures the camera with your own frames, after EMVA 1288: electrons per ADU, read noise, full well, linearity, range,
DSNU, PRNU, dark current and its rise with temperature, glow, hot, cold and hopping pixels; for each colour of a
mosaic too. What to take, at each gain that you would like to compare:
  bias    10 or more of the shortest exposure, in the dark
  flats   2 at each of 10 exposures, from dim to plainly overexposed, before a steady lamp
  darks   4 or more at two exposures, and at two temperatures or more

Examples:
  nightglass sensor --folder camera-test --chart camera.png
  nightglass sensor --folder camera-test --defects defects.fits
  nightglass sensor --folder camera-test --into-rig            into rig.toml; the old one is kept beside it
  nightglass sensor --folder camera-test --into-library        kept for `library calibration`, with their uncertainties)";

std::string text_of(const std::optional<app::SensorFigure>& f, const char* format = "{:.4g} ± {:.2g}") {
  return f ? fmt::format(fmt::runtime(format), f->value, f->error) : "-";
}

std::string row(const app::SensorChannel& c) {
  const std::string well = text_of(c.full_well_e, "{:.0f} ± {:.0f}");
  return fmt::format("  {:<5} {:>18} {:>18} {:>17} {:>17} {:>8} {:>9} {:>13} {:>17}\n", c.name,
                     text_of(c.gain_e_adu, "{:.5g} ± {:.2g}"),
                     (c.read_noise_is_limit ? "< " : "") + text_of(c.read_noise_e),
                     text_of(c.offset_adu, "{:.2f} ± {:.2g}"), (c.full_well_is_limit ? "> " : "") + well,
                     c.dynamic_range_db ? fmt::format("{:.1f}", *c.dynamic_range_db) : "-",
                     c.linearity_percent ? fmt::format("{:.2f}", *c.linearity_percent) : "-",
                     text_of(c.dsnu_e, "{:.3g} ± {:.1g}"), text_of(c.prnu_percent, "{:.4g} ± {:.1g}"));
}

std::string temperatures_of(const app::SensorSetting& s) {
  std::string text =
      fmt::format("  {:>7} {:>5} {:>6} {:>6} {:>18} {:>22} {:>20} {:>9} {:>7} {:>9}\n", "deg C", "bias", "darks",
                  "flats", "read noise e-", "dark current e-/s", "glow e-/s", "glowing %", "hot", "hopping");
  for (const app::SensorTemperature& t : s.temperatures)
    text += fmt::format("  {:>7} {:>5} {:>6} {:>6} {:>18} {:>22} {:>20} {:>9} {:>7} {:>9}\n",
                        t.known ? fmt::format("{:.1f}", t.temperature_c) : "unknown", t.bias, t.darks, t.flats,
                        text_of(t.read_noise_e), text_of(t.dark_e_s, "{:.4g} ± {:.1g}"),
                        text_of(t.glow_e_s, "{:.3g} ± {:.1g}"), fmt::format("{:.1f}", t.glowing_percent), t.hot,
                        t.unsteady);
  if (s.law)
    text += fmt::format("  dark current doubles every {} C around {:.0f} C; in silicon it would be {:.1f}\n",
                        text_of(s.law->doubling_c, "{:.2f} ± {:.2g}"), s.law->middle_c, s.law->silicon_doubling_c);
  return text;
}

std::string text_of(const app::SensorReply& r) {
  std::string text;
  for (const app::SensorSetting& s : r.settings) {
    text += fmt::format("{}{}{}, {} x {}, binning {}{}\n", s.camera.empty() ? "camera" : s.camera,
                        s.gain_setting ? fmt::format(", gain {:g}", *s.gain_setting) : "",
                        s.offset_setting ? fmt::format(", offset {:g}", *s.offset_setting) : "", s.width, s.height,
                        s.binning, s.step_adu > 1 ? fmt::format(", values in steps of {:g}", s.step_adu) : "");
    text += fmt::format("  {:<5} {:>18} {:>18} {:>17} {:>17} {:>8} {:>9} {:>13} {:>17}\n", "", "e-/ADU",
                        "read noise e-", "offset ADU", "full well e-", "range dB", "linear %", "DSNU e-", "PRNU %");
    text += row(s.all);
    for (const app::SensorChannel& c : s.channels) text += row(c);
    text += temperatures_of(s);
    text += fmt::format("  {} cold pixels; {} pixels with a defect of any kind\n", s.cold, s.defects);
    for (const std::string& flag : s.flags) text += "  ! " + flag + "\n";
    text += "\n";
  }
  for (const std::string& line : r.verdict.lines) text += line + "\n";
  for (const std::string& file : r.left_out) text += "left out: " + file + "\n";
  if (!r.chart.empty()) text += "chart: " + r.chart + "\n";
  if (!r.defects.empty()) text += "defects: " + r.defects + "\n";
  for (const std::string& change : r.rig_changes) text += "rig.toml: " + change + "\n";
  for (const std::string& file : r.kept) text += "in the library: " + file + "\n";
  for (const std::string& note : r.notes) text += note + "\n";
  if (!r.rig_before.empty()) text += fmt::format("{} is changed; as it was: {}\n", r.rig, r.rig_before);
  if (!r.rig.empty() && r.rig_before.empty()) text += r.rig + " holds these figures already\n";
  return text;
}

}  // namespace

void add_sensor(CLI::App& root, Session& session) {
  const auto request = std::make_shared<app::SensorRequest>();
  const auto bayer = std::make_shared<std::string>();
  const auto overwrite = std::make_shared<bool>(false);
  CLI::App* command =
      session.add_command(root, "sensor", "Gain, read noise, full well, dark current: your camera from your own frames",
                          kHelp, [request, bayer, overwrite, &session]() -> Result<void> {
                            if (!bayer->empty()) request->bayer = parse_bayer(*bayer);
                            request->overwrite = *overwrite ? io::Overwrite::kReplace : io::Overwrite::kRefuse;
                            NG_TRY(const app::SensorReply reply, app::sensor(*request, session.context()));
                            if (session.json())
                              session.print(app::to_json(reply));
                            else
                              session.print(text_of(reply));
                            return {};
                          });
  command->add_option("files", request->files, "Bias, dark and flat frames, in any order");
  command->add_option("--folder", request->folder, "All frames in this folder and below it");
  command->add_option("--bayer", *bayer, "Colours of the first two rows, whatever the files say: RGGB ...")
      ->check(CLI::IsMember({"RGGB", "BGGR", "GRBG", "GBRG"}, CLI::ignore_case));
  command->add_option("--sub-s", request->sub_s, "Length of your sub-exposures, for the advice on temperature")
      ->check(CLI::Range(0.001, 36000.0))
      ->capture_default_str();
  command
      ->add_option("--temperature-tolerance-c", request->temperature_tolerance_c,
                   "Frames closer than this are of one temperature")
      ->check(CLI::Range(0.001, 36000.0))
      ->capture_default_str();
  command->add_option("--chart", request->chart, "Draw the figures: FILE.png or FILE.svg");
  command->add_option("--defects", request->defects, "Write the map of defects: FILE.fits; 1 hot, 2 cold, 4 hopping");
  command->add_flag("--into-rig", request->into_rig, "Write gains, bias level and dark current into rig.toml");
  command->add_flag("--into-library", request->into_library,
                    "Keep the figures in the library: a file for each gain in sensors/ of the workspace");
  command->add_option("--workspace", request->workspace,
                      "Folder with site.toml and rig.toml; default: the nearest upwards");
  command->add_flag("--overwrite", *overwrite, "Replace a chart or map that is there");
}

}  // namespace ng::cli
