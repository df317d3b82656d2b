// app/catalogue_columns.h - which columns of a table are places, motions and brightness of stars.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "catalog/sky_file.h"
#include "io/number_table.h"

namespace ng::app {

// What a star may take from a table: role -> name of the column. Roles: ra dec mag flux colour pmra pmdec ra_error
// dec_error pmra_error pmdec_error.
using ColumnMap = std::map<std::string, std::string>;
// "ra=RA_ICRS,dec=DE_ICRS,mag=Gmag". Errors: kInvalidInput (no such role, or not written so).
[[nodiscard]] Result<ColumnMap> read_column_map(const std::string& text);

// Rows to stars. Known without a map: the names of the Gaia archive, of VizieR, of the CDS descriptions of Hipparcos,
// Tycho-1 and Tycho-2, and plain ra, dec, mag. Angles are degrees, or hours where the unit says so or the right
// ascension is written with colons; motions milliarcsec a year and errors milliarcsec, unless the unit says otherwise.
// V and B-V of Tycho-2 from VT and BT: V = VT - 0.090 (BT - VT), B-V = 0.850 (BT - VT) (ESA 1997, vol. 1, section 1.3).
class StarColumns {
 public:
  // Errors: kInvalidInput (a column of the map is not there), kUnsupported (no position or no brightness).
  [[nodiscard]] static Result<StarColumns> of(const io::NumberTable& table, const ColumnMap& map);

  // Nothing for a row without position or brightness.
  [[nodiscard]] std::optional<catalog::SkyEntry> entry(const std::vector<double>& row) const;
  [[nodiscard]] const std::string& band() const { return band_; }
  [[nodiscard]] bool moving() const { return pm_ra_ && pm_dec_; }
  // The epoch that the row states, if there is such a column.
  [[nodiscard]] std::optional<double> epoch_year(const std::vector<double>& row) const;
  [[nodiscard]] bool gaia() const { return gaia_; }

 private:
  struct Column {
    std::size_t index = 0;
    double factor = 1;  // to radians, radians a year
  };
  [[nodiscard]] static double value(const std::vector<double>& row, const std::optional<Column>& column);

  std::optional<Column> ra_, dec_, other_ra_, other_dec_, pm_ra_, pm_dec_;
  std::optional<Column> ra_error_, dec_error_, pm_ra_error_, pm_dec_error_;
  std::optional<Column> mag_, flux_, colour_, bt_, vt_, bp_, rp_, epoch_;
  std::string band_ = "mag";
  bool gaia_ = false;
};

// Proper motion that a star of unknown motion is likely to have, one axis: 30 milliarcsec a year at magnitude 6, less
// for fainter, farther ones by 10^(-0.1 (m - 6)) (see tools/build_sky.cpp).
[[nodiscard]] double usual_motion_rad_year(double magnitude);

}  // namespace ng::app
