#include "measure/basins.h"

#include <algorithm>
#include <tuple>

namespace ng::measure {
namespace {

using Pixel = BrightPixels::Pixel;

// Calls visit(i, j) for every pair of touching pixels, j being the right or one of the three lower neighbours of i.
template <typename Visit>
void for_each_contact(const BrightPixels& bright, const Visit& visit) {
  const std::vector<Pixel>& p = bright.pixels;
  for (std::size_t y = 0; y + 1 < bright.row_begin.size(); ++y) {
    const std::size_t end = bright.row_begin[y + 1];
    std::size_t below = end;  // first pixel of the next row that may still touch
    const std::size_t below_end = y + 2 < bright.row_begin.size() ? bright.row_begin[y + 2] : end;
    for (std::size_t i = bright.row_begin[y]; i < end; ++i) {
      if (i + 1 < end && p[i + 1].x == p[i].x + 1) visit(i, i + 1);
      while (below < below_end && p[below].x < p[i].x - 1) ++below;
      for (std::size_t j = below; j < below_end && p[j].x <= p[i].x + 1; ++j) visit(i, j);
    }
  }
}

}  // namespace

Relief find_basins(const BrightPixels& bright) {
  const std::vector<Pixel>& p = bright.pixels;
  // The way up from every pixel, and how high it leads; a peak points at itself. In reading order j > i always.
  std::vector<std::size_t> up(p.size());
  std::vector<float> top_value(p.size());
  for (std::size_t i = 0; i < up.size(); ++i) {
    up[i] = i;
    top_value[i] = p[i].value;
  }
  for_each_contact(bright, [&](std::size_t i, std::size_t j) {
    if (p[j].value > top_value[i] || (p[j].value == top_value[i] && j > up[i])) {
      up[i] = j;
      top_value[i] = p[j].value;
    }
    if (p[i].value > top_value[j] || (p[i].value == top_value[j] && i > up[j])) {
      up[j] = i;
      top_value[j] = p[i].value;
    }
  });

  Relief relief;
  constexpr std::int32_t kUnknown = -1;
  std::vector<std::int32_t> home(p.size(), kUnknown);
  for (std::size_t i = 0; i < p.size(); ++i) {
    if (up[i] != i) continue;
    home[i] = static_cast<std::int32_t>(relief.basins.size());
    relief.basins.push_back({i, 0});
  }
  for (std::size_t i = 0; i < p.size(); ++i) {
    std::size_t top = i;
    while (home[top] == kUnknown) top = up[top];
    for (std::size_t k = i; home[k] == kUnknown; k = up[k]) home[k] = home[top];
    ++relief.basins[static_cast<std::size_t>(home[i])].area_px;
  }

  std::vector<Saddle> contacts;
  for_each_contact(bright, [&](std::size_t i, std::size_t j) {
    if (home[i] != home[j])
      contacts.push_back({std::min(home[i], home[j]), std::max(home[i], home[j]), std::min(p[i].value, p[j].value)});
  });
  std::sort(contacts.begin(), contacts.end(), [](const Saddle& s, const Saddle& t) {
    return std::tie(s.a, s.b, t.height) < std::tie(t.a, t.b, s.height);
  });
  const auto end = std::unique(contacts.begin(), contacts.end(),
                               [](const Saddle& s, const Saddle& t) { return s.a == t.a && s.b == t.b; });
  relief.saddles.assign(contacts.begin(), end);
  std::sort(relief.saddles.begin(), relief.saddles.end(), [](const Saddle& s, const Saddle& t) {
    return std::tie(t.height, s.a, s.b) < std::tie(s.height, t.a, t.b);
  });
  return relief;
}

}  // namespace ng::measure
