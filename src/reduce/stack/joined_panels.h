// reduce/stack/joined_panels.h - panels that stars join, among those that only the sky has placed.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "reduce/stack/align_panels.h"

namespace ng::reduce {

// Panels that a chain of links with kFewestShared stars or more joins to panel 0, itself included, ascending.
[[nodiscard]] std::vector<int> joined_panels(int panels, std::span<const PanelLink> links);

// Those are fitted together (align_panels.h); the maps of the others come back as they were. Errors: of align_panels().
[[nodiscard]] Result<PanelFit> align_joined_panels(std::span<const Panel> panels, std::span<const PanelLink> links,
                                                   std::optional<double> focal_length_px);

// Over how many pixels panels hand over to each other: half of the narrowest overlap of panels beside each other.
[[nodiscard]] double feather_width(std::span<const Panel> panels);

}  // namespace ng::reduce
