// Start of the exposure, in UTC.
#include <fmt/format.h>

#include <cmath>

#include "io/facts_reader.h"

namespace ng::io {
namespace {

// Dates before the year 2000 as older files wrote them: "dd/mm/yy" (FITS 4.0, section 4.4.2.1).
std::string modern_date(std::string_view text) {
  text = trimmed(text);
  const bool old = text.size() == 8 && text[2] == '/' && text[5] == '/';
  if (!old) return std::string(text);
  return fmt::format("19{}-{}-{}", text.substr(6, 2), text.substr(3, 2), text.substr(0, 2));
}

// A clock time of its own card, "00:57:33" or a whole date, that completes a DATE-OBS without one.
std::optional<Instant> with_clock(FactsReader& reader, const std::string& date) {
  for (const std::string_view name : {"TIME-OBS", "UT", "UTSTART", "UT-OBS", "UTC", "UTC-OBS", "TIME-BEG", "TIME"}) {
    const std::string clock = reader.text({name});
    if (clock.empty()) continue;
    const auto whole = Instant::parse(clock.find('T') == std::string::npos ? date + "T" + clock : clock);
    if (whole) return whole;
  }
  return std::nullopt;
}

}  // namespace

void read_start(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  std::string date;
  for (const std::string_view name : {"DATE-OBS", "DATE-BEG", "DATE-STA", "DATE_OBS"}) {
    date = modern_date(reader.text({name}));
    if (date.empty()) continue;
    facts.start = Instant::parse(date);
    if (facts.start) break;
    reader.warn(fmt::format("{} = '{}' is not a date that FITS knows (YYYY-MM-DDThh:mm:ss): ignored", name, date));
  }
  const auto mjd = reader.number_within({"MJD-OBS", "MJD-BEG", "MJD"}, 15020, 88070);  // years 1900 to 2100
  const bool mjd_has_time = mjd && mjd->value != std::floor(mjd->value);
  if (facts.start && date.size() <= 10) {
    if (const auto complete = with_clock(reader, date)) {
      facts.start = complete;
    } else if (mjd_has_time) {
      facts.start = Instant::from_mjd(mjd->value);
    } else {
      reader.warn("the header gives the day of the exposure, not its time");
    }
  } else if (!facts.start && mjd) {
    facts.start = Instant::from_mjd(mjd->value);
  }
  if (!facts.start) return;
  const double apart_s = mjd_has_time ? std::fabs(facts.start->seconds_since(Instant::from_mjd(mjd->value))) : 0;
  if (apart_s > 120 + facts.exposure_s.value_or(0))
    reader.warn(fmt::format("DATE-OBS and MJD-OBS are {:.0f} minutes apart (one may be local time): DATE-OBS is taken",
                            apart_s / 60));
  const std::string scale = upper(reader.text({"TIMESYS"}));
  if (!scale.empty() && scale != "UTC" && scale != "UT")
    reader.warn(fmt::format("TIMESYS = '{}': the times are taken as UTC all the same", scale));
}

}  // namespace ng::io
