// app/catalogue_import.h - a published star catalogue becomes one that the solver uses; and what there is.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/result.h"
#include "io/overwrite.h"

namespace ng::app {

struct CatalogueImportRequest {
  std::vector<std::filesystem::path> files;  // together one catalogue
  std::string name;
  // See below
  // Made when it is not there; the file is NAME.ngsky in it. Default: `catalogues` of the workspace.
  std::optional<std::filesystem::path> folder;
  std::optional<std::filesystem::path> workspace;  // default: the nearest upwards
  std::string columns;                             // "ra=RA,dec=DEC,mag=MAG", over what is known
  std::optional<double> epoch_year;                // of the positions, over what the files say
  std::optional<double> faintest_mag;
  io::Overwrite overwrite = io::Overwrite::kRefuse;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("files", self.files);
    visit("name", self.name);
    visit("folder", self.folder);
    visit("columns", self.columns);
    visit("epoch_year", self.epoch_year);
    visit("faintest_mag", self.faintest_mag);
    visit("overwrite", self.overwrite);
  }
};

struct CatalogueImportReply {
  std::string name, path;
  std::vector<std::string> forms;  // what the files were
  std::int64_t stars = 0;
  std::int64_t passed_over = 0;  // rows without place or brightness, or too faint
  std::string band;
  double epoch_year = 2000;
  double faintest_mag = 0;
  double reach_mag = 0;  // where the numbers by magnitude cease to rise
  double covered_deg2 = 0;
  double stars_deg2 = 0;
  double narrowest_width_deg = 0;  // of a 3 : 2 frame that holds 12 stars
  std::int64_t patterns = 0;
  std::int64_t bytes = 0;
  double seconds = 0;
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("path", self.path);
    visit("forms", self.forms);
    visit("stars", self.stars);
    visit("passed_over", self.passed_over);
    visit("band", self.band);
    visit("epoch_year", self.epoch_year);
    visit("faintest_mag", self.faintest_mag);
    visit("reach_mag", self.reach_mag);
    visit("covered_deg2", self.covered_deg2);
    visit("stars_deg2", self.stars_deg2);
    visit("narrowest_width_deg", self.narrowest_width_deg);
    visit("patterns", self.patterns);
    visit("bytes", self.bytes);
    visit("seconds", self.seconds);
    visit("notes", self.notes);
  }
};

// Errors: kInvalidInput (name, mapping), kNotFound, kExists, kCorrupt, kUnsupported, kTooFew (no star), kIo,
// kCancelled.
[[nodiscard]] Result<CatalogueImportReply> import_catalogue(const CatalogueImportRequest& request, const Context& ctx);

struct CatalogueLine {
  std::string name, band;
  std::int64_t stars = 0;
  double epoch_year = 2000, reach_mag = 0, covered_deg2 = 0, narrowest_width_deg = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("name", self.name);
    visit("band", self.band);
    visit("stars", self.stars);
    visit("epoch_year", self.epoch_year);
    visit("reach_mag", self.reach_mag);
    visit("covered_deg2", self.covered_deg2);
    visit("narrowest_width_deg", self.narrowest_width_deg);
  }
};
struct CatalogueListReply {
  std::vector<CatalogueLine> catalogues;
  std::vector<std::string> notes;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("catalogues", self.catalogues);
    visit("notes", self.notes);
  }
};
[[nodiscard]] Result<CatalogueListReply> list_catalogues(const std::vector<std::filesystem::path>& places,
                                                         const std::optional<std::filesystem::path>& workspace);

}  // namespace ng::app
