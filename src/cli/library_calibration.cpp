#include <fmt/format.h>

#include "app/library_shelf.h"
#include "cli/library_parts.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(Looks at the darks, bias, flats and dark-flats of the library for the lights of tonight: gain and temperature of
rig.toml, the sub-exposures that `expose` advises. How near they must be, and how many are wanted, calibration.toml in the
workspace says: exposure_tolerance_percent, temperature_tolerance_c, rotation_tolerance_deg, darks, flats, bias, dark_flats,
old_after_days.

Examples:
  nightglass library calibration
  nightglass library calibration --light-s 300 --filter Ha --temperature-c -15)";

std::string clock_of(double minutes) {
  const int whole = static_cast<int>(std::ceil(minutes));
  return whole < 60 ? fmt::format("{} min", whole) : fmt::format("{} h {:02d}", whole / 60, whole % 60);
}

std::string number(const std::optional<double>& value, const char* unit) {
  return value ? fmt::format("{:g}{}", *value, unit) : "";
}

std::string name_of(const app::ShelfNeed& n) {
  std::string text = n.kind;
  if (!n.filter.empty()) text += " " + n.filter;
  if (n.exposure_s) text += fmt::format(" {:g} s", *n.exposure_s);
  text += fmt::format(" gain {:g}", n.gain_setting);
  if (n.temperature_c) text += fmt::format(" at {:g} C", *n.temperature_c);
  return text;
}

std::string text_of(const app::ShelfReply& r) {
  std::string text =
      fmt::format("{:<10} {:<8} {:>9} {:>6} {:>7} {:>7} {:>8} {:>4} {:>7} {:>7}  {}\n", "on shelf", "filter",
                  "exposure", "gain", "offset", "deg C", "angle", "bin", "frames", "nights", "last");
  for (const app::ShelfSet& s : r.sets)
    text += fmt::format("{:<10} {:<8} {:>9} {:>6} {:>7} {:>7} {:>8} {:>4} {:>7} {:>7}  {}\n", s.kind, s.filter,
                        number(s.exposure_s, " s"), number(s.gain_setting, ""), number(s.offset_setting, ""),
                        number(s.temperature_c, ""), number(s.rotation_deg, ""), s.binning, s.frames, s.nights,
                        s.last_night);
  if (r.sets.empty()) text += "nothing\n";
  if (!r.masters.empty()) text += "\nmasters kept:\n";
  for (const app::ShelfMaster& m : r.masters) {
    text += fmt::format("{:<9} {} of {} frames", m.state, m.path, m.frames);
    if (m.age_days) text += fmt::format(", {:.0f} days old", *m.age_days);
    text += "\n";
    for (const std::string& note : m.notes) text += "    " + note + "\n";
  }
  if (r.sensor)
    text += fmt::format(
        "\nsensor at gain {:g}{}: {:.4g} e-/ADU ({}), read noise {:.3g} e- ({}), dark current {:.3g} e-/s at {:g} C "
        "({})\n",
        r.sensor->gain_setting, r.sensor->measured.empty() ? "" : ", measured " + r.sensor->measured.substr(0, 10),
        r.sensor->gain_e_adu, r.sensor->gain_from, r.sensor->read_noise_e, r.sensor->read_noise_from,
        r.sensor->dark_e_s, r.sensor->temperature_c, r.sensor->dark_from);
  text += "\nfor tonight:\n";
  for (const app::ShelfNeed& n : r.needs) {
    text += fmt::format("{:<36} {:>3} of {:<3} {:<8}", name_of(n), n.have, n.wanted, n.state);
    if (n.take > 0) text += fmt::format(" take {}: {}", n.take, clock_of(n.take_min));
    text += "\n";
    for (const std::string& note : n.notes) text += "    " + note + "\n";
  }
  if (r.take_min > 0) text += fmt::format("all together {}\n", clock_of(r.take_min));
  for (const std::string& note : r.notes) text += note + "\n";
  return text;
}

}  // namespace

void add_library_calibration(CLI::App& parent, Session& session) {
  const auto request = std::make_shared<app::ShelfRequest>();
  const auto headers_only = std::make_shared<bool>(false);
  CLI::App* command =
      session.add_command(parent, "calibration", "Darks, bias and flats for tonight: there, missing, or no longer good",
                          kHelp, [request, headers_only, &session]() -> Result<void> {
                            request->at = now();
                            request->pixels = !*headers_only;
                            NG_TRY(const app::ShelfReply reply, app::calibration_shelf(*request, session.context()));
                            if (session.json())
                              session.print(app::to_json(reply));
                            else
                              session.print(text_of(reply));
                            return {};
                          });
  command->add_option("--workspace", request->workspace,
                      "Folder with site.toml and rig.toml; default: the nearest upwards");
  command
      ->add_option("--light-s", request->light_s,
                   "Sub-exposures of tonight, one or several; default: as `expose` advises")
      ->check(CLI::Range(0.001, 36000.0))
      ->delimiter(',');
  command->add_option("--filter", request->filters, "Filters of tonight; default: all of rig.toml")->delimiter(',');
  command->add_option("--gain", request->gain_setting, "Gain setting; default: that of rig.toml");
  command->add_option("--offset", request->offset_setting, "Offset setting; default: any");
  command->add_option("--temperature-c", request->temperature_c, "Of the sensor; default: that of rig.toml");
  command->add_option("--rotation-deg", request->rotation_deg, "Of the rotator, for flats; default: any");
  command->add_flag("--headers-only", *headers_only, "Read no pixels: nothing is tested for drift");
}

}  // namespace ng::cli
