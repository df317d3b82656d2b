// store/schema.h - the tables of library.db, and how older ones become the present ones.
#pragma once

#include <array>

namespace ng::store {

// Step i brings a database of user_version i to i + 1. Steps that were ever released do not change any more.
inline constexpr std::array kMigrations = {
    R"(CREATE TABLE targets (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
       CREATE TABLE nights (id INTEGER PRIMARY KEY, evening TEXT NOT NULL UNIQUE);
       CREATE TABLE frames (
         id INTEGER PRIMARY KEY,
         path TEXT NOT NULL UNIQUE,
         hash TEXT NOT NULL UNIQUE,
         bytes INTEGER NOT NULL,
         kind TEXT NOT NULL,
         target_id INTEGER REFERENCES targets(id),
         night_id INTEGER REFERENCES nights(id),
         filter TEXT NOT NULL,
         camera TEXT NOT NULL,
         width INTEGER NOT NULL,
         height INTEGER NOT NULL,
         binning_x INTEGER NOT NULL,
         binning_y INTEGER NOT NULL,
         start_us INTEGER,
         exposure_s REAL,
         gain_setting REAL,
         offset_setting REAL,
         sensor_temperature_c REAL,
         rotation_deg REAL);
       CREATE INDEX frames_by_target ON frames(target_id, filter, night_id);
       CREATE INDEX frames_by_night ON frames(night_id);
       CREATE INDEX frames_by_likeness ON frames(bytes, start_us);)",
    R"(CREATE VIEW hours AS
         SELECT coalesce(t.name, '') AS target, f.filter AS filter, count(*) AS frames,
                count(DISTINCT f.night_id) AS nights, coalesce(sum(f.exposure_s), 0) AS exposure_s
         FROM frames f LEFT JOIN targets t ON t.id = f.target_id
         WHERE f.kind = 'light' OR f.target_id IS NOT NULL GROUP BY t.name, f.filter;)",
};

}  // namespace ng::store
