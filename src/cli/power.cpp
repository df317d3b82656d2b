#include "app/power.h"

#include <fmt/format.h>

#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(Adds up what the rig draws from each supply, on average and at the peak, the volts that are lost in the cable, the fuse,
how long the battery lasts in the cold, and how much heat keeps the front glass dry in each hour. Loads, supplies,
cables and battery stand in rig.toml under [power].

Examples:
  nightglass power                                        the usual night of site.toml
  nightglass power --night-h 13 --temperature-c -12 --humidity-percent 90)";

struct Options {
  app::PowerRequest request;
  std::string workspace;
};

std::string summary_of(const app::PowerReply& r) {
  std::string text = fmt::format("{:<12} {:>8} {:>8} {:>8} {:>8} {:>10} {:>10} {:>7}\n", "supply", "mean W", "mean A",
                                 "peak A", "rated A", "drop V", "arrive V", "fuse A");
  for (const app::PowerSupply& supply : r.supplies) {
    const rig::SupplyUse& s = supply.use;
    text +=
        fmt::format("{:<12} {:>8.1f} {:>8.2f} {:>8.2f} {:>8g} {:>10.2f} {:>10.2f} {:>7}\n", s.name, s.mean_w, s.mean_a,
                    s.peak_a, s.rated_a, s.drop_v, s.volts_at_peak, s.fuse_a ? fmt::format("{:g}", *s.fuse_a) : "none");
    for (const std::string& flag : s.flags) text += "  ! " + flag + "\n";
  }
  text += fmt::format("\n{:.1f} W on average, {:.0f} Wh in {:g} h", r.mean_w, r.night_wh, r.night_h);
  if (r.runtime_h)
    text += fmt::format("; at {:g} C the battery gives {:.0f} Wh and lasts {:.1f} h", r.temperature_c, *r.usable_wh,
                        *r.runtime_h);
  text += "\n";
  for (const std::string& flag : r.flags) text += "  ! " + flag + "\n";
  text += fmt::format("\n{:>5} {:>7} {:>11} {:>12} {:>8} {:>9}   front glass of {:g} mm\n", "hour", "air C",
                      "humidity %", "dew point C", "glass C", "heater W", r.aperture_mm);
  for (const app::PowerHour& h : r.hours)
    text += fmt::format("{:>5.0f} {:>7.1f} {:>11.0f} {:>12.1f} {:>8.1f} {:>9.1f}{}\n", h.hour, h.temperature_c,
                        h.humidity_percent, h.dew_point_c, h.glass_c, h.heater_w, h.wet ? "   wet without heat" : "");
  text += "\n";
  for (const std::string& caution : r.cautions) text += "Caution: " + caution + "\n";
  return text;
}

Result<void> run(Options& o, const Session& session) {
  if (!o.workspace.empty()) o.request.workspace = o.workspace;
  NG_TRY(const app::PowerReply reply, app::power(o.request, session.context()));
  if (session.json()) {
    session.print(app::to_json(reply));
  } else {
    session.print(summary_of(reply));
  }
  return {};
}

}  // namespace

void add_power(CLI::App& root, Session& session) {
  const auto options = std::make_shared<Options>();
  CLI::App* command = session.add_command(root, "power", "Supplies, battery, cables and dew of a night", kHelp,
                                          [options, &session] { return run(*options, session); });
  Options& o = *options;
  command->add_option("--workspace", o.workspace, "Folder with site.toml and rig.toml; default: the nearest upwards");
  command->add_option("--night-h", o.request.night_h, "Hours from setting up to packing")->capture_default_str();
  command->add_option("--temperature-c", o.request.temperature_c, "At the coldest; default: of site.toml");
  command->add_option("--evening-c", o.request.evening_temperature_c, "At the beginning; default: 6 degrees more");
  command->add_option("--humidity-percent", o.request.humidity_percent, "At the coldest; default: of site.toml");
  command->add_option("--dew-margin-c", o.request.dew_margin_c, "That the glass is kept above the dew point")
      ->capture_default_str();
}

}  // namespace ng::cli
