// app/local_time.h - the clock on the wall: a moment in a zone of the system's time zone database.
#pragma once

#include <string>

#include "base/instant.h"
#include "base/result.h"

namespace ng::app {

class LocalZone {
 public:
  // "Europe/Rome", "UTC". Errors: kNotFound.
  [[nodiscard]] static Result<LocalZone> find(const std::string& name);

  [[nodiscard]] std::string clock(Instant utc) const;         // "23:41"
  [[nodiscard]] std::string date(Instant utc) const;          // "2027-01-05"
  [[nodiscard]] std::string iso(Instant utc) const;           // "2027-01-05T23:41:07+01:00"
  [[nodiscard]] std::string abbreviation(Instant utc) const;  // "CET"
  // The moment of a date and hour in this zone; of an hour that comes twice the first, of one that is left out the
  // next. Errors: kInvalidInput (no such date).
  [[nodiscard]] Result<Instant> moment(const std::string& date, int hour) const;

 private:
  explicit LocalZone(const void* zone) : zone_(zone) {}
  const void* zone_;  // of the library, which keeps it
};

}  // namespace ng::app
