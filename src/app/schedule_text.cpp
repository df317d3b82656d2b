#include "app/schedule_text.h"

#include <fmt/format.h>

namespace ng::app {
namespace {

// Hours and minutes of a date and time.
std::string clock(const std::string& iso) {
  return iso.substr(11, 5);
}

std::string quoted(const std::string& text) {
  if (text.find_first_of("\",\r\n") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + "\"";
}

// RFC 5545, 3.3.11: backslash, semicolon, comma and line breaks of a text.
std::string escaped(const std::string& text) {
  std::string out;
  for (const char c : text) {
    if (c == '\\' || c == ';' || c == ',') out += '\\';
    out += c == '\n' ? std::string("\\n") : std::string(1, c);
  }
  return out;
}

// RFC 5545, 3.1: no line is longer than 75 octets; what goes on begins with a blank. No character is torn.
std::string folded(const std::string& line) {
  std::string out;
  std::size_t used = 0;
  for (std::size_t i = 0; i < line.size();) {
    std::size_t length = 1;
    while (i + length < line.size() && (static_cast<unsigned char>(line[i + length]) & 0xC0) == 0x80) ++length;
    if (used + length > 75) {
      out += "\r\n ";
      used = 1;
    }
    out += line.substr(i, length);
    used += length;
    i += length;
  }
  return out + "\r\n";
}

// "2026-11-25T20:15:00.000" to "20261125T201500Z".
std::string stamp(const std::string& utc) {
  std::string out;
  for (const char c : utc.substr(0, 19))
    if (c != '-' && c != ':') out += c;
  return out + "Z";
}

}  // namespace

std::string schedule_card(const ScheduleReply& r) {
  std::string text = fmt::format("Night of {}, {}. Times are {}.\n", r.night, r.site, r.time_zone);
  const auto time = [](const std::optional<std::string>& t) { return t.value_or("none"); };
  text += fmt::format("Sunset {}, dark from {} to {}, sunrise {}; Moon {:.0f} % lit\n\n", time(r.local_sunset),
                      time(r.local_dusk), time(r.local_dawn), time(r.local_sunrise), 100 * r.moon_illuminated_fraction);
  text += fmt::format("{:<13} {:<20} {:<6} {:>11} {:>9} {:>6}\n", "from - to", "target", "filter", "exposures",
                      "altitude", "flip");
  for (const ScheduleBlock& b : r.blocks) {
    text += fmt::format("{} - {} {:<20} {:<6} {:>4} x {:>3.0f} s {:>3.0f} -> {:>2.0f} {:>6}\n", clock(b.local_begin),
                        clock(b.local_end), b.target, b.filter, b.subs, b.sub_s, b.begin_altitude_deg,
                        b.end_altitude_deg, b.local_flip.value_or(""));
    if (!b.why.empty()) text += fmt::format("              {}\n", b.why);
  }
  text += fmt::format("{}\n{}\n\n", r.flats, r.park);
  text += fmt::format("{:<20} {:<6} {:>10} {:>10} {:>10}\n", "target", "filter", "gained h", "needed h", "SNR share");
  for (const ScheduleShare& s : r.shares)
    text += fmt::format("{:<20} {:<6} {:>10.2f} {:>10.2f} {:>8.0f} %{}\n", s.target, s.filter, s.gained_min / 60,
                        s.needed_min / 60, 100 * s.snr_share, s.trouble.empty() ? "" : "  " + s.trouble);
  text += fmt::format(
      "\nHours are those at the dark zenith. This order is worth {:.3f}; no order is worth more than {:.3f};\n"
      "step by step, whatever gains most at once, {:.3f}.\n",
      r.value, r.bound, r.greedy_value);
  return text;
}

std::string schedule_csv(const ScheduleReply& r) {
  std::string text =
      "begin_utc,end_utc,target,filter,subs,sub_s,pause_min,equivalent_min,begin_altitude_deg,end_altitude_deg,"
      "moon_separation_deg,flip_utc,begin_local,end_local,why\r\n";
  for (const ScheduleBlock& b : r.blocks)
    text += fmt::format("{},{},{},{},{},{:g},{:.1f},{:.1f},{:.1f},{:.1f},{:.1f},{},{},{},{}\r\n", b.begin, b.end,
                        quoted(b.target), quoted(b.filter), b.subs, b.sub_s, b.pause_min, b.equivalent_min,
                        b.begin_altitude_deg, b.end_altitude_deg, b.moon_separation_deg, b.flip.value_or(""),
                        b.local_begin, b.local_end, quoted(b.why));
  return text;
}

std::string schedule_calendar(const ScheduleReply& r, Instant now) {
  std::string text = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//nightglass//schedule//EN\r\n";
  int number = 0;
  for (const ScheduleBlock& b : r.blocks) {
    text += "BEGIN:VEVENT\r\n";
    text += folded(fmt::format("UID:{}-{}@nightglass.invalid", stamp(b.begin), ++number));
    text += folded("DTSTAMP:" + stamp(now.iso()));
    text += folded("DTSTART:" + stamp(b.begin));
    text += folded("DTEND:" + stamp(b.end));
    text += folded("SUMMARY:" + escaped(fmt::format("{} {}: {} x {:g} s", b.target, b.filter, b.subs, b.sub_s)));
    text += folded("DESCRIPTION:" + escaped(b.why));
    text += folded("LOCATION:" + escaped(r.site));
    text += "END:VEVENT\r\n";
  }
  return text + "END:VCALENDAR\r\n";
}

}  // namespace ng::app
