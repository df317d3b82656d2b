// finish/channels.h - which master becomes which colour.
//
// Filters are known by their trade names, in any case and with or without blanks and hyphens: L, R, G, B (also
// Luminance, Red, Green, Blue; V counts as green), H-alpha, H-beta, O III, S II, N II, and the broad bands u' g' r' i'
// of Fukugita et al. 1996 (AJ 111, 1748). Mapping, unless the recipe names the filters:
//   R, G and B there      each its own colour
//   one of R, G, B gone   the missing one is the mean of the other two (flagged: its colour is not measured)
//   three other bands     by wavelength: the longest red, the shortest blue
//   two filters           by wavelength: the longer red, the shorter green and blue (O III, at 501 nm, is blue-green)
//   one filter            grey
// With L, brightness comes from L and colour from the others. What is left over is listed as unused.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace ng::finish {

struct ChannelPlan {
  int luminance = -1;                       // index of the master, -1 = none
  std::array<std::vector<int>, 3> sources;  // masters whose mean makes red, green, blue; all empty = grey
  int grey = -1;                            // index of the master of a grey picture, when there is no colour
  std::vector<int> unused;
  std::vector<std::string> notes;  // what is not as measured, one sentence each

  [[nodiscard]] bool colour() const { return !sources[0].empty(); }
};

// Names given in a recipe; empty = by the rules above.
struct ChannelNames {
  std::string luminance, red, green, blue;
};

// The one spelling of a filter's name: "Ha" for "H-alpha", "R" for "Red"; unknown names as they are.
[[nodiscard]] std::string canonical_filter(std::string_view name);

// Errors: kInvalidInput (two masters of one filter, a name in the recipe that no master has, unknown filters that only
// a recipe can map).
[[nodiscard]] Result<ChannelPlan> plan_channels(std::span<const std::string> filters, const ChannelNames& names);

}  // namespace ng::finish
