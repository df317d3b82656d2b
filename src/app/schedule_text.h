// app/schedule_text.h - a schedule as a card for the field, as comma-separated values, and as a calendar.
#pragma once

#include <string>

#include "app/schedule.h"

namespace ng::app {

[[nodiscard]] std::string schedule_card(const ScheduleReply& reply);
// RFC 4180: a heading, lines that end with CR LF, quotes where they are needed.
[[nodiscard]] std::string schedule_csv(const ScheduleReply& reply);
// RFC 5545: one event for each block; times in UTC; `now` is the stamp that the standard asks for.
[[nodiscard]] std::string schedule_calendar(const ScheduleReply& reply, Instant now);

}  // namespace ng::app
