#include "app/schedule.h"

#include <fmt/format.h>

#include "app/schedule_text.h"
#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kHelp =
    R"(Orders the night: which target through which filter when. It knows altitude and horizon, moonlight in each filter, the
pauses for centring, filter, focus and flip, and what each target still needs; and it says why, and how far from the
best possible order it is at most. Hours that a filter needs are those at the dark zenith; 2 where you give none.

Examples:
  nightglass schedule --target "M 33=L:3,R:1,G:1,B:1" --target "NGC 7000=Ha:4,OIII:4"
  nightglass schedule --target "M 31=L" --at 2026-12-12T20:00 --card card.txt --calendar night.ics --csv night.csv
  nightglass schedule --target "M 31/3x1/125=L:2" --chart night.png   panels as compose lays them, hours for each
  nightglass schedule --target "Old field@23.46,30.66=L:2"     a place of your own: right ascension, declination, degrees

Optics stay away from the Sun: a target within 30 degrees of it is refused.)";

struct Options {
  app::ScheduleRequest request;
  std::vector<std::string> targets;
  std::string workspace, at, card, csv, calendar, chart;
};

Result<void> run(Options& o, const Session& session) {
  app::ScheduleRequest& r = o.request;
  if (!o.workspace.empty()) r.workspace = o.workspace;
  if (!o.card.empty()) r.card = o.card;
  if (!o.csv.empty()) r.csv = o.csv;
  if (!o.calendar.empty()) r.calendar = o.calendar;
  if (!o.chart.empty()) r.chart = o.chart;
  r.at = o.at.empty() ? now() : *Instant::parse(o.at);
  for (const std::string& text : o.targets) {
    NG_TRY(app::ScheduleWish wish, app::parse_schedule_wish(text));
    r.targets.push_back(std::move(wish));
  }
  NG_TRY(const app::ScheduleReply reply, app::schedule(r, session.context()));
  if (session.json()) {
    session.print(app::to_json(reply));
    return {};
  }
  for (const std::string& note : reply.notes) session.note("note: " + note);
  session.print(app::schedule_card(reply));
  for (const std::string& file : reply.files) session.note("written: " + file);
  return {};
}

}  // namespace

void add_schedule(CLI::App& root, Session& session) {
  const auto options = std::make_shared<Options>();
  CLI::App* command = session.add_command(root, "schedule", "The order of a night: targets, filters, flips", kHelp,
                                          [options, &session] { return run(*options, session); });
  Options& o = *options;
  command->add_option("--target", o.targets, "NAME=FILTER:HOURS,...; once for each target")
      ->required()
      ->expected(1)
      ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
  command->add_option("--workspace", o.workspace, "Folder with site.toml and rig.toml; default: the nearest upwards");
  command->add_option("--at", o.at, "The night that holds this time, or follows; UTC; default: now")
      ->check([](const std::string& text) { return Instant::parse(text) ? "" : "write it like 2026-12-12T20:00"; });
  command->add_option("--step-min", o.request.step_min, "The night is cut into such steps")->capture_default_str();
  command->add_option("--card", o.card, "Write the card for the field there");
  command->add_option("--csv", o.csv, "Write a table there");
  command->add_option("--calendar", o.calendar, "Write a calendar there (iCalendar)");
  command->add_option("--chart", o.chart, "Draw the night there: .png or .svg");
}

}  // namespace ng::cli
