#include <fmt/format.h>

#include <memory>

#include "app/catalogue_import.h"
#include "cli/session.h"

namespace ng::cli {
namespace {

constexpr const char* kImportHelp =
    R"(Files are known by their content and may be inside gzip:
  Tycho-2          tyc2.dat.00.gz to tyc2.dat.19.gz and suppl_1.dat.gz, all in one command (2.5 million stars, to about V 11.5)
  Gaia             an extract as CSV, VOTable or FITS table, with ra, dec, pmra, pmdec, phot_g_mean_mag
  Hipparcos        hip_main.dat
  any text table   with a header line; name the columns that are not understood: --columns ra=RA,dec=DE,mag=MAG

Example:
  nightglass catalogue import tyc2.dat.*.gz suppl_1.dat.gz --name tycho2         into the workspace: solve uses it from now on
  nightglass catalogue import gaia.csv --name m36 --into elsewhere               used with: solve --catalogue elsewhere)";

std::string text_of(const app::CatalogueImportReply& r) {
  std::string text = fmt::format("{}: {} stars, {} rows passed over\n", r.path, r.stars, r.passed_over);
  text += fmt::format("positions of {:.2f}; {} from here to {:.1f}, complete to about {:.1f}\n", r.epoch_year, r.band,
                      r.faintest_mag, r.reach_mag);
  text += fmt::format("{:.1f} square degrees with {:.1f} stars each: enough for fields {:.2f} degrees wide and more\n",
                      r.covered_deg2, r.stars_deg2, r.narrowest_width_deg);
  return text +
         fmt::format("{} patterns, {:.1f} MB, {:.1f} s\n", r.patterns, static_cast<double>(r.bytes) / 1e6, r.seconds);
}

std::string text_of(const app::CatalogueListReply& r) {
  std::string text = fmt::format("{:<20} {:>9} {:>5} {:>6} {:>8} {:>12} {:>14}\n", "name", "stars", "band", "reach",
                                 "epoch", "square deg", "fields from");
  for (const app::CatalogueLine& c : r.catalogues)
    text += fmt::format("{:<20} {:>9} {:>5} {:>6.1f} {:>8.2f} {:>12.1f} {:>10.2f} deg\n", c.name, c.stars, c.band,
                        c.reach_mag, c.epoch_year, c.covered_deg2, c.narrowest_width_deg);
  return text;
}

void add_import(CLI::App& parent, Session& session) {
  struct Options {
    app::CatalogueImportRequest request;
    std::vector<std::string> files;
    bool overwrite = false;
  };
  auto o = std::make_shared<Options>();
  CLI::App* command = session.add_command(
      parent, "import", "A published star catalogue becomes one that solve uses", kImportHelp,
      [o, &session]() -> Result<void> {
        o->request.files.assign(o->files.begin(), o->files.end());
        o->request.overwrite = o->overwrite ? io::Overwrite::kReplace : io::Overwrite::kRefuse;
        NG_TRY(const app::CatalogueImportReply reply, app::import_catalogue(o->request, session.context()));
        if (session.json()) {
          session.print(app::to_json(reply));
          return {};
        }
        for (const auto& note : reply.notes) session.note("note: " + note);
        session.print(text_of(reply));
        return {};
      });
  command->add_option("files", o->files, "Files of the catalogue")->required();
  command->add_option("--name", o->request.name, "Name of the catalogue here")->required();
  command->add_option("--into", o->request.folder, "Another folder for the result than that of the workspace");
  command->add_option("--workspace", o->request.workspace,
                      "Folder with site.toml and rig.toml; default: the nearest upwards");
  command->add_option("--columns", o->request.columns,
                      "Which column is what, like ra=RA,dec=DEC,mag=MAG,pmra=..,pmdec=..");
  command->add_option("--epoch-year", o->request.epoch_year, "Epoch of the positions, where the files do not say it");
  command->add_option("--faintest-mag", o->request.faintest_mag, "Leave fainter stars out");
  command->add_flag("--overwrite", o->overwrite, "Replace a catalogue of that name");
}

}  // namespace

void add_catalogue(CLI::App& root, Session& session) {
  CLI::App* parent =
      root.add_subcommand("catalogue", "Star catalogues: import published ones, list those that are here");
  parent->require_subcommand(1);
  add_import(*parent, session);
  auto places = std::make_shared<std::vector<std::string>>();
  auto workspace = std::make_shared<std::optional<std::filesystem::path>>();
  CLI::App* list = session.add_command(
      *parent, "list", "Which catalogues there are, and for which fields they do", "",
      [places, workspace, &session]() -> Result<void> {
        NG_TRY(const app::CatalogueListReply reply, app::list_catalogues({places->begin(), places->end()}, *workspace));
        for (const auto& note : reply.notes) session.note("note: " + note);
        if (session.json()) {
          session.print(app::to_json(reply));
        } else {
          session.print(text_of(reply));
        }
        return {};
      });
  list->add_option("--workspace", *workspace, "Folder with site.toml and rig.toml; default: the nearest upwards");
  list->add_option("--catalogue", *places, "Imported catalogue, or a folder of them; may be repeated");
}

}  // namespace ng::cli
