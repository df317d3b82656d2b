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
    // Sites and rigs as headers state them; masters and pictures with their recipes; what was measured, apart from
    // that.
    R"(CREATE TABLE sites (
         id INTEGER PRIMARY KEY,
         latitude_deg REAL NOT NULL,
         longitude_deg REAL NOT NULL,
         UNIQUE (latitude_deg, longitude_deg));
       CREATE TABLE rigs (
         id INTEGER PRIMARY KEY,
         telescope TEXT NOT NULL,
         camera TEXT NOT NULL,
         focal_length_mm REAL,
         pixel_size_um REAL);
       CREATE UNIQUE INDEX rigs_once ON rigs(telescope, camera, coalesce(focal_length_mm, 0), coalesce(pixel_size_um, 0));
       ALTER TABLE frames ADD COLUMN site_id INTEGER REFERENCES sites(id);
       ALTER TABLE frames ADD COLUMN rig_id INTEGER REFERENCES rigs(id);
       CREATE TABLE recipes (
         id INTEGER PRIMARY KEY,
         path TEXT NOT NULL UNIQUE,
         hash TEXT NOT NULL);
       CREATE TABLE recipe_inputs (
         recipe_id INTEGER NOT NULL REFERENCES recipes(id) ON DELETE CASCADE,
         role TEXT NOT NULL,
         hash TEXT NOT NULL,
         PRIMARY KEY (recipe_id, role, hash)) WITHOUT ROWID;
       CREATE INDEX recipe_inputs_by_hash ON recipe_inputs(hash);
       CREATE TABLE masters (
         id INTEGER PRIMARY KEY,
         path TEXT NOT NULL UNIQUE,
         hash TEXT NOT NULL,
         bytes INTEGER NOT NULL,
         target_id INTEGER REFERENCES targets(id),
         filter TEXT NOT NULL,
         frames INTEGER,
         exposure_s REAL,
         fwhm_px REAL,
         noise_e REAL,
         measures_path TEXT,
         recipe_id INTEGER NOT NULL REFERENCES recipes(id));
       CREATE TABLE pictures (
         id INTEGER PRIMARY KEY,
         path TEXT NOT NULL UNIQUE,
         hash TEXT NOT NULL,
         bytes INTEGER NOT NULL,
         recipe_id INTEGER NOT NULL REFERENCES recipes(id));
       CREATE TABLE measures (
         id INTEGER PRIMARY KEY,
         master_id INTEGER NOT NULL REFERENCES masters(id) ON DELETE CASCADE,
         frame_hash TEXT NOT NULL,
         key TEXT NOT NULL,
         version INTEGER NOT NULL,
         stars INTEGER NOT NULL,
         trails INTEGER NOT NULL,
         fwhm_px REAL,
         half_flux_radius_px REAL,
         eccentricity REAL,
         background_e REAL NOT NULL,
         noise_e REAL NOT NULL,
         UNIQUE (master_id, key));
       CREATE INDEX measures_by_frame ON measures(frame_hash, version, fwhm_px, stars);
       CREATE TABLE grades (
         master_id INTEGER NOT NULL REFERENCES masters(id) ON DELETE CASCADE,
         frame_hash TEXT NOT NULL,
         accepted INTEGER NOT NULL,
         worth REAL,
         reason TEXT NOT NULL,
         PRIMARY KEY (master_id, frame_hash)) WITHOUT ROWID;
       CREATE INDEX grades_by_frame ON grades(frame_hash, worth);
       CREATE VIEW quality AS
         SELECT f.path AS path, m.path AS master, q.version AS version, q.stars AS stars, q.trails AS trails,
                q.fwhm_px AS fwhm_px, q.half_flux_radius_px AS half_flux_radius_px, q.eccentricity AS eccentricity,
                q.background_e AS background_e, q.noise_e AS noise_e, g.accepted AS accepted, g.worth AS worth,
                g.reason AS reason
         FROM frames f JOIN measures q ON q.frame_hash = f.hash JOIN masters m ON m.id = q.master_id
         LEFT JOIN grades g ON g.master_id = m.id AND g.frame_hash = f.hash;)",
    // The hours of a large library without counting all of it: sums for each target, filter and night, kept by
    // triggers. In whole microseconds, so that what is taken away again leaves nothing behind. 0 stands for no target,
    // no night.
    R"(CREATE TABLE night_sums (
         target_id INTEGER NOT NULL,
         filter TEXT NOT NULL,
         night_id INTEGER NOT NULL,
         frames INTEGER NOT NULL,
         exposure_us INTEGER NOT NULL,
         PRIMARY KEY (target_id, filter, night_id)) WITHOUT ROWID;
       INSERT INTO night_sums
         SELECT coalesce(target_id, 0), filter, coalesce(night_id, 0), count(*),
                sum(CAST(round(coalesce(exposure_s, 0) * 1e6) AS INTEGER))
         FROM frames WHERE kind = 'light' OR target_id IS NOT NULL GROUP BY 1, 2, 3;
       CREATE TRIGGER frame_comes AFTER INSERT ON frames WHEN new.kind = 'light' OR new.target_id IS NOT NULL BEGIN
         INSERT INTO night_sums VALUES (coalesce(new.target_id, 0), new.filter, coalesce(new.night_id, 0), 1,
                                        CAST(round(coalesce(new.exposure_s, 0) * 1e6) AS INTEGER))
           ON CONFLICT DO UPDATE SET frames = frames + 1, exposure_us = exposure_us + excluded.exposure_us;
       END;
       CREATE TRIGGER frame_goes AFTER DELETE ON frames WHEN old.kind = 'light' OR old.target_id IS NOT NULL BEGIN
         UPDATE night_sums SET frames = frames - 1,
                exposure_us = exposure_us - CAST(round(coalesce(old.exposure_s, 0) * 1e6) AS INTEGER)
           WHERE target_id = coalesce(old.target_id, 0) AND filter = old.filter AND night_id = coalesce(old.night_id, 0);
         DELETE FROM night_sums
           WHERE target_id = coalesce(old.target_id, 0) AND filter = old.filter AND night_id = coalesce(old.night_id, 0)
             AND frames = 0;
       END;
       CREATE TRIGGER frame_changes_from AFTER UPDATE OF kind, target_id, filter, night_id, exposure_s ON frames
         WHEN old.kind = 'light' OR old.target_id IS NOT NULL BEGIN
         UPDATE night_sums SET frames = frames - 1,
                exposure_us = exposure_us - CAST(round(coalesce(old.exposure_s, 0) * 1e6) AS INTEGER)
           WHERE target_id = coalesce(old.target_id, 0) AND filter = old.filter AND night_id = coalesce(old.night_id, 0);
         DELETE FROM night_sums
           WHERE target_id = coalesce(old.target_id, 0) AND filter = old.filter AND night_id = coalesce(old.night_id, 0)
             AND frames = 0;
       END;
       CREATE TRIGGER frame_changes_to AFTER UPDATE OF kind, target_id, filter, night_id, exposure_s ON frames
         WHEN new.kind = 'light' OR new.target_id IS NOT NULL BEGIN
         INSERT INTO night_sums VALUES (coalesce(new.target_id, 0), new.filter, coalesce(new.night_id, 0), 1,
                                        CAST(round(coalesce(new.exposure_s, 0) * 1e6) AS INTEGER))
           ON CONFLICT DO UPDATE SET frames = frames + 1, exposure_us = exposure_us + excluded.exposure_us;
       END;
       CREATE INDEX frames_by_kind ON frames(kind);
       CREATE INDEX measures_by_width ON measures(fwhm_px, stars);
       DROP VIEW hours;
       CREATE VIEW hours AS
         SELECT coalesce(t.name, '') AS target, s.filter AS filter, sum(s.frames) AS frames,
                count(nullif(s.night_id, 0)) AS nights, sum(s.exposure_us) / 1e6 AS exposure_s
         FROM night_sums s LEFT JOIN targets t ON t.id = s.target_id GROUP BY s.target_id, s.filter;)",
    // Darks, bias, flats and dark-flats of many frames, kept for the next reduction.
    R"(CREATE TABLE calibration_masters (
         id INTEGER PRIMARY KEY,
         path TEXT NOT NULL UNIQUE,
         hash TEXT NOT NULL,
         bytes INTEGER NOT NULL,
         kind TEXT NOT NULL,
         key TEXT NOT NULL,
         version INTEGER NOT NULL,
         frames INTEGER NOT NULL,
         single_noise_adu REAL NOT NULL,
         camera TEXT NOT NULL,
         filter TEXT NOT NULL,
         width INTEGER NOT NULL,
         height INTEGER NOT NULL,
         binning_x INTEGER NOT NULL,
         binning_y INTEGER NOT NULL,
         exposure_s REAL,
         gain_setting REAL,
         offset_setting REAL,
         sensor_temperature_c REAL,
         rotation_deg REAL,
         first_us INTEGER,
         last_us INTEGER,
         recipe_id INTEGER NOT NULL REFERENCES recipes(id));)",
    // A camera as it was measured. The file is its own recipe: it names the frames that it was measured with.
    R"(CREATE TABLE sensor_results (
         id INTEGER PRIMARY KEY,
         path TEXT NOT NULL UNIQUE,
         hash TEXT NOT NULL,
         bytes INTEGER NOT NULL,
         key TEXT NOT NULL,
         version INTEGER NOT NULL,
         camera TEXT NOT NULL,
         gain_setting REAL,
         offset_setting REAL,
         width INTEGER NOT NULL,
         height INTEGER NOT NULL,
         binning INTEGER NOT NULL,
         frames INTEGER NOT NULL,
         first_us INTEGER,
         last_us INTEGER,
         cold INTEGER NOT NULL,
         defects INTEGER NOT NULL,
         recipe_id INTEGER NOT NULL REFERENCES recipes(id));
       CREATE TABLE sensor_channels (
         sensor_id INTEGER NOT NULL REFERENCES sensor_results(id) ON DELETE CASCADE,
         place INTEGER NOT NULL,
         channel TEXT NOT NULL,
         gain_e_adu REAL,
         gain_e_adu_error REAL,
         read_noise_e REAL,
         read_noise_e_error REAL,
         read_noise_is_limit INTEGER NOT NULL,
         offset_adu REAL,
         offset_adu_error REAL,
         full_well_e REAL,
         full_well_e_error REAL,
         full_well_is_limit INTEGER NOT NULL,
         dsnu_e REAL,
         dsnu_e_error REAL,
         prnu_percent REAL,
         prnu_percent_error REAL,
         linearity_percent REAL,
         PRIMARY KEY (sensor_id, place)) WITHOUT ROWID;
       CREATE TABLE sensor_temperatures (
         sensor_id INTEGER NOT NULL REFERENCES sensor_results(id) ON DELETE CASCADE,
         place INTEGER NOT NULL,
         temperature_c REAL,
         bias INTEGER NOT NULL,
         darks INTEGER NOT NULL,
         flats INTEGER NOT NULL,
         read_noise_e REAL,
         read_noise_e_error REAL,
         dark_e_s REAL,
         dark_e_s_error REAL,
         glow_e_s REAL,
         glow_e_s_error REAL,
         hot INTEGER NOT NULL,
         hopping INTEGER NOT NULL,
         PRIMARY KEY (sensor_id, place)) WITHOUT ROWID;)",
};

}  // namespace ng::store
