// app/field_chart.h - a chart of stars and objects with the panels drawn on it: north up, east to the left.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "catalog/object_file.h"
#include "catalog/star_file.h"
#include "io/overwrite.h"
#include "plan/panels.h"

namespace ng::app {

struct FieldChart {
  std::string title, subtitle;
  sky::Direction centre;
  double radius_rad = 0.02;  // from the centre to the nearest side of the chart
  std::vector<catalog::CatalogStar> stars;
  std::vector<catalog::SkyObject> objects;
  std::vector<plan::Panel> panels;
};
// Errors: those of io::Canvas.
[[nodiscard]] Result<void> draw_field_chart(const FieldChart& chart, const std::filesystem::path& path,
                                            io::Overwrite overwrite);

}  // namespace ng::app
