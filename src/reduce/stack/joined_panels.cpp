#include "reduce/stack/joined_panels.h"

#include <algorithm>

#include "reduce/stack/union_grid.h"

namespace ng::reduce {

std::vector<int> joined_panels(int panels, std::span<const PanelLink> links) {
  std::vector<bool> joined(static_cast<std::size_t>(panels), false);
  joined[0] = true;
  for (bool again = true; again;) {
    again = false;
    for (const PanelLink& link : links) {
      const auto a = static_cast<std::size_t>(link.from), b = static_cast<std::size_t>(link.to);
      if (link.stars.size() < kFewestShared || joined[a] == joined[b]) continue;
      joined[a] = joined[b] = true;
      again = true;
    }
  }
  std::vector<int> list;
  for (int p = 0; p < panels; ++p)
    if (joined[static_cast<std::size_t>(p)]) list.push_back(p);
  return list;
}

Result<PanelFit> align_joined_panels(std::span<const Panel> panels, std::span<const PanelLink> links,
                                     std::optional<double> focal_length_px) {
  const std::vector<int> joined = joined_panels(static_cast<int>(panels.size()), links);
  const auto index = [&](int panel) {
    return static_cast<int>(std::find(joined.begin(), joined.end(), panel) - joined.begin());
  };
  const int count = static_cast<int>(joined.size());
  std::vector<Panel> some;
  for (const int p : joined) some.push_back(panels[static_cast<std::size_t>(p)]);
  std::vector<PanelLink> among;
  for (const PanelLink& link : links)
    if (index(link.from) < count && index(link.to) < count)
      among.push_back({index(link.from), index(link.to), link.stars});
  NG_TRY(PanelFit fit, align_panels(some, among, focal_length_px));
  std::vector<math::PlaneMap> all;
  for (const Panel& panel : panels) all.push_back(panel.to_grid);
  for (std::size_t k = 0; k < joined.size(); ++k) all[static_cast<std::size_t>(joined[k])] = fit.to_grid[k];
  fit.to_grid = std::move(all);
  return fit;
}

double feather_width(std::span<const Panel> panels) {
  constexpr double kLeastPx = 8;
  double narrowest = 1e30;
  for (std::size_t a = 1; a < panels.size(); ++a) {
    const FrameOnGrid one{panels[a].width, panels[a].height, panels[a].to_grid};
    double widest = 0;  // a panel meets others at its corners too: its broadest overlap counts
    for (std::size_t b = 0; b < panels.size(); ++b)
      if (a != b) widest = std::max(widest, overlap_share(one, {panels[b].width, panels[b].height, panels[b].to_grid}));
    narrowest = std::min(narrowest, widest * std::min(panels[a].width, panels[a].height));
  }
  return std::max(kLeastPx, narrowest / 2);
}

}  // namespace ng::reduce
