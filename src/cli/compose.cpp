#include "app/compose.h"

#include <fmt/format.h>

#include "base/angle.h"
#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(The field is that of the workspace's rig, or given by hand. The position angle says where the upper side of the picture
points: from north through east. What is larger than the field gets panels, in the order in which they culminate. A chart
(.png or .svg) has stars, objects and the frames on it.

Examples:
  nightglass compose "M 33"
  nightglass compose "NGC 7000" --position-angle-deg 90 --chart north-america.png
  nightglass compose "M 31" --panels 3x2 --overlap 0.2 --field-width-deg 1.6 --field-height-deg 1.1
  nightglass compose --ra-deg 83.82 --dec-deg -5.39 --shift-up-percent 20)";

struct Options {
  app::ComposeRequest request;
  std::string workspace, panels, chart, at;
  bool overwrite = false;
};

std::string text_of(const app::ComposeReply& r) {
  std::string text = fmt::format("{}: {} {}, {}", r.target, format_ra(r.ra_deg), format_dec(r.dec_deg), r.whereabouts);
  if (r.size_arcmin) text += fmt::format(", {:.1f}' across", *r.size_arcmin);
  text += fmt::format("\nfield {:.3f} x {:.3f} degrees, position angle {:g}; {} x {} panels, {:.0f} % overlap\n\n",
                      r.field_width_deg, r.field_height_deg, r.position_angle_deg, r.across, r.up, 100 * r.overlap);
  text +=
      fmt::format("{:>5} {:>7} {:>12} {:>10} {:>7}  {}\n", "panel", "col,row", "RA", "Dec", "angle", "stars to V 10");
  for (const app::ComposePanel& p : r.panels)
    text += fmt::format("{:5d} {:>7} {:>12} {:>10} {:7.2f}  {}\n", p.number, fmt::format("{},{}", p.column, p.row),
                        format_ra(p.ra_deg), format_dec(p.dec_deg), p.position_angle_deg, p.stars);
  if (!r.bright_stars.empty()) text += "\nbright stars in and beside the field\n";
  for (const app::ComposeStar& s : r.bright_stars)
    text += fmt::format("  V {:4.1f} at {} {}, {:.2f} degrees from the centre, {}\n", s.v_mag, format_ra(s.ra_deg),
                        format_dec(s.dec_deg), s.distance_deg, s.inside ? "in it" : "beside it");
  if (!r.neighbours.empty()) text += "\nalso in the field\n";
  constexpr std::size_t kShown = 15;
  for (std::size_t i = 0; i < std::min(kShown, r.neighbours.size()); ++i) {
    const app::ComposeNeighbour& n = r.neighbours[i];
    text += fmt::format("  {:<36} {:<20} {:6.1f}' {}\n", n.title, n.kind, n.size_arcmin,
                        n.magnitude ? fmt::format("{:.1f} mag", *n.magnitude) : "");
  }
  if (r.neighbours.size() > kShown) text += fmt::format("  and {} fainter\n", r.neighbours.size() - kShown);
  if (!r.chart.empty()) text += fmt::format("\nchart: {}\n", r.chart);
  return text;
}

Result<void> run(Options& o, const Session& session) {
  if (!o.workspace.empty()) o.request.workspace = o.workspace;
  o.request.chart = o.chart;
  o.request.at = o.at.empty() ? now() : *Instant::parse(o.at);
  o.request.overwrite = o.overwrite ? io::Overwrite::kReplace : io::Overwrite::kRefuse;
  if (!o.panels.empty()) {
    char rest = 0;
    if (std::sscanf(o.panels.c_str(), "%dx%d%c", &o.request.across, &o.request.up, &rest) != 2)
      return Error(Code::kInvalidInput, fmt::format("--panels: '{}' is not like 3x2", o.panels));
  }
  NG_TRY(const app::ComposeReply reply, app::compose(o.request, session.context()));
  if (session.json()) {
    session.print(app::to_json(reply));
    return {};
  }
  for (const std::string& note : reply.notes) session.note("note: " + note);
  std::string text = text_of(reply);
  const app::ComposeRequest& r = o.request;
  const app::ComposeRequest usual;
  if (reply.panels.size() > 1 && !r.target.empty() && r.overlap == usual.overlap && r.shift_right_percent == 0 &&
      r.shift_up_percent == 0)
    text += fmt::format("\nnightglass schedule --target \"{}/{}x{}/{:g}=L:2\" orders these panels\n", r.target,
                        reply.across, reply.up, r.position_angle_deg);
  session.print(text);
  return {};
}

}  // namespace

void add_compose(CLI::App& root, Session& session) {
  const auto o = std::make_shared<Options>();
  CLI::App* command = session.add_command(root, "compose", "Frame a target: rotation, panels, bright stars, a chart",
                                          kHelp, [o, &session] { return run(*o, session); });
  app::ComposeRequest& r = o->request;
  command->add_option("target", r.target, "Name: M 33, NGC 7000, Pleiades");
  command->add_option("--workspace", o->workspace, "Folder with site.toml and rig.toml; default: the nearest upwards");
  command->add_option("--ra-deg", r.ra_deg, "Right ascension of a target without name, ICRS");
  command->add_option("--dec-deg", r.dec_deg, "Its declination");
  command->add_option("--field-width-deg", r.field_width_deg, "Instead of the rig's")->check(CLI::Range(0.01, 60.0));
  command->add_option("--field-height-deg", r.field_height_deg, "Instead of the rig's")->check(CLI::Range(0.01, 60.0));
  command
      ->add_option("--position-angle-deg", r.position_angle_deg, "Of the picture's upper side, from north through east")
      ->check(CLI::Range(-360.0, 360.0))
      ->capture_default_str();
  command
      ->add_option("--shift-right-percent", r.shift_right_percent,
                   "Put the target right of the middle, in % of the field")
      ->check(CLI::Range(-50.0, 50.0));
  command->add_option("--shift-up-percent", r.shift_up_percent, "Put it above the middle")
      ->check(CLI::Range(-50.0, 50.0));
  command->add_option("--panels", o->panels, "Across x up, like 3x2; default: what the object needs");
  command->add_option("--overlap", r.overlap, "Share of a panel")->check(CLI::Range(0.0, 0.8))->capture_default_str();
  command->add_option("--at", o->at, "When it is to be photographed, UTC; default: now. Near the Sun it is refused")
      ->check([](const std::string& text) { return Instant::parse(text) ? "" : "write it like 2026-12-12T20:00"; });
  command->add_option("--chart", o->chart, "Picture to draw: .png or .svg");
  command->add_flag("--overwrite", o->overwrite, "Replace the chart if it is there");
}

}  // namespace ng::cli
