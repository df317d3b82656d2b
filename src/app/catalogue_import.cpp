#include "app/catalogue_import.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <span>

#include "app/catalogue_columns.h"
#include "app/sky_catalogues.h"
#include "catalog/sky_file.h"
#include "io/atomic_file.h"

namespace ng::app {
namespace {

bool is_plain_name(const std::string& name) {
  return !name.empty() && name.size() <= 40 && std::all_of(name.begin(), name.end(), [](unsigned char c) {
    return std::isalnum(c) != 0 || c == '-' || c == '_' || c == '.';
  }) && name.front() != '.';
}

double narrowest_width_deg(double stars_deg2) {
  return stars_deg2 > 0 ? std::sqrt(1.5 * 12 / stars_deg2) : 360;
}

double density(const catalog::SkyFileFacts& facts) {
  return facts.covered_deg2 > 0 ? facts.stars / facts.covered_deg2 : 0;
}

// Stars of all files, at one epoch.
struct Gathered {
  std::vector<catalog::SkyEntry> entries;
  std::optional<double> epoch_year;
  std::string band;
};

void move_to(catalog::SkyEntry& e, double years) {
  if (years == 0) return;
  e.dec_rad = std::clamp(e.dec_rad + e.pm_dec_rad_year * years, -1.5707963267948966, 1.5707963267948966);
  e.ra_rad += e.pm_ra_rad_year * years / std::max(1e-6, std::cos(e.dec_rad));
  e.position_error_rad = std::hypot(e.position_error_rad, e.motion_error_rad_year * years);
}

Result<void> gather(const std::filesystem::path& path, const ColumnMap& map, const CatalogueImportRequest& request,
                    Gathered& all, CatalogueImportReply& reply, const Context& ctx) {
  NG_TRY(const std::unique_ptr<io::NumberTable> table, io::open_table(path));
  NG_TRY(const StarColumns columns, StarColumns::of(*table, map));
  reply.forms.push_back(table->form());
  std::optional<double> epoch = request.epoch_year ? request.epoch_year : table->epoch_year();
  if (!columns.moving()) reply.notes.push_back(path.filename().string() + ": no proper motions");
  std::vector<double> row;
  std::int64_t count = 0;
  for (;;) {
    if (++count % 65536 == 0 && ctx.cancelled()) return Error(Code::kCancelled, "cancelled");
    NG_TRY(const bool more, table->next(row));
    if (!more) break;
    if (!epoch) epoch = columns.epoch_year(row);
    if (!epoch) {
      epoch = columns.gaia() ? 2016.0 : 2000.0;
      reply.notes.push_back(fmt::format("{}: the epoch of the positions is not stated: taken as {:.1f}",
                                        path.filename().string(), *epoch));
    }
    if (!all.epoch_year) all.epoch_year = epoch;
    auto entry = columns.entry(row);
    if (!entry || entry->magnitude > request.faintest_mag.value_or(99) || entry->magnitude > 31) {
      ++reply.passed_over;
      continue;
    }
    // A row may have an epoch of its own.
    move_to(*entry,
            *all.epoch_year - (request.epoch_year ? *request.epoch_year : columns.epoch_year(row).value_or(*epoch)));
    all.entries.push_back(*entry);
  }
  all.band = all.band.empty() || all.band == columns.band() ? columns.band() : "mixed";
  return {};
}

Result<void> write(const std::filesystem::path& path, std::span<const std::byte> bytes, io::Overwrite overwrite) {
  NG_TRY(io::AtomicFile file, io::AtomicFile::create(path, overwrite));
  NG_CHECK(file.write_at(0, bytes));
  return file.commit();
}

}  // namespace

Result<CatalogueImportReply> import_catalogue(const CatalogueImportRequest& request, const Context& ctx) {
  const auto begun = std::chrono::steady_clock::now();
  if (!is_plain_name(request.name))
    return Error(
        Code::kInvalidInput,
        fmt::format("'{}' cannot name a catalogue: use up to 40 letters, digits, '-', '_' and '.'", request.name));
  NG_TRY(const ColumnMap map, read_column_map(request.columns));
  CatalogueImportReply reply;
  reply.name = request.name;
  std::filesystem::path folder;
  if (request.folder) {
    folder = *request.folder;
  } else if (auto own = catalogue_folder(request.workspace); own.ok()) {
    folder = std::move(own).value();
  } else {
    return Error(own.error().code(), own.error().message() + "; or name a folder for the catalogue with --into");
  }
  const std::filesystem::path path = folder / (request.name + ".ngsky");
  reply.path = path.string();
  std::error_code trouble;
  if (request.overwrite == io::Overwrite::kRefuse && std::filesystem::exists(path, trouble))
    return Error(Code::kExists,
                 fmt::format("'{}' exists already and is not overwritten: choose another name, or ask for "
                             "it to be replaced",
                             path.string()));
  std::filesystem::create_directories(folder, trouble);
  if (trouble) return Error(Code::kIo, fmt::format("{}: {}", folder.string(), trouble.message()));

  Gathered all;
  ctx.begin("reading", static_cast<std::int64_t>(request.files.size()));
  for (const auto& file : request.files) {
    NG_CHECK(gather(file, map, request, all, reply, ctx).in(file.string()));
    ctx.advance();
  }
  if (all.entries.empty()) return Error(Code::kTooFew, "no row has both a place and a brightness");
  catalog::SkyEncodeOptions options;
  options.band = all.band;
  options.epoch_year = *all.epoch_year;
  NG_TRY(const std::vector<std::byte> bytes, catalog::encode_sky_file(all.entries, options, ctx));
  NG_CHECK(write(path, bytes, request.overwrite));

  NG_TRY(const catalog::SkyFile file, catalog::SkyFile::open(path));
  const catalog::SkyFileFacts& facts = file.facts();
  reply.stars = facts.stars;
  reply.band = facts.band;
  reply.epoch_year = facts.epoch_year;
  for (const catalog::SkyEntry& e : all.entries) reply.faintest_mag = std::max(reply.faintest_mag, e.magnitude);
  reply.reach_mag = facts.reach_mag;
  reply.covered_deg2 = facts.covered_deg2;
  reply.stars_deg2 = density(facts);
  reply.narrowest_width_deg = narrowest_width_deg(reply.stars_deg2);
  reply.patterns = facts.patterns;
  reply.bytes = static_cast<std::int64_t>(bytes.size());
  reply.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  return reply;
}

Result<CatalogueListReply> list_catalogues(const std::vector<std::filesystem::path>& places,
                                           const std::optional<std::filesystem::path>& workspace) {
  NG_TRY(const SkyCatalogues skies, open_catalogues(places, true, workspace));
  CatalogueListReply reply;
  reply.notes = skies.notes;
  for (const NamedSky& sky : skies.all) {
    const catalog::SkyFileFacts& f = sky.file.facts();
    reply.catalogues.push_back(
        {sky.name, f.band, f.stars, f.epoch_year, f.reach_mag, f.covered_deg2, narrowest_width_deg(density(f))});
  }
  return reply;
}

}  // namespace ng::app
