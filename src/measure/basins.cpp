#include "measure/basins.h"

#include <algorithm>
#include <bit>
#include <cstdint>
#include <tuple>
#include <utility>

namespace ng::measure {
namespace {

using Pixel = BrightPixels::Pixel;

using Index = std::uint32_t;

// Where a pixel has no neighbour stands the index behind the last, so that nobody has to ask.
class Neighbours {
 public:
  explicit Neighbours(const BrightPixels& bright) : bright_(bright), none_(static_cast<Index>(bright.pixels.size())) {
    std::int32_t widest = 0;
    for (const Pixel& p : bright.pixels) widest = std::max(widest, p.x);
    above_.assign(static_cast<std::size_t>(widest) + 3, none_);
    here_ = above_;
  }

  // Calls visit(i, left, and the three above) for every pixel in reading order.
  template <typename Visit>
  void for_each(const Visit& visit) {
    const std::vector<Pixel>& p = bright_.pixels;
    for (std::size_t y = 0; y + 1 < bright_.row_begin.size(); ++y) {
      const std::size_t begin = bright_.row_begin[y], end = bright_.row_begin[y + 1];
      for (std::size_t i = begin; i < end; ++i) {
        const auto x = static_cast<std::size_t>(p[i].x) + 1;  // one place is free on each side
        visit(i, here_[x - 1], above_[x - 1], above_[x], above_[x + 1]);
        here_[x] = static_cast<Index>(i);
      }
      if (y > 0)
        for (std::size_t i = bright_.row_begin[y - 1]; i < begin; ++i)
          above_[static_cast<std::size_t>(p[i].x) + 1] = none_;
      std::swap(here_, above_);
    }
    std::fill(above_.begin(), above_.end(), none_);
    std::fill(here_.begin(), here_.end(), none_);
  }
  [[nodiscard]] Index none() const { return none_; }

 private:
  const BrightPixels& bright_;
  Index none_;
  std::vector<Index> here_, above_;  // the pixel at each place of this row and the last
};

}  // namespace

Relief find_basins(const BrightPixels& bright) {
  const std::vector<Pixel>& p = bright.pixels;
  Neighbours neighbours(bright);
  // The way up from every pixel: the highest of itself and its neighbours; a peak points at itself. Height and place
  // stand in one number, of which the largest is taken without asking: noise makes every question a surprise.
  std::vector<std::uint64_t> own(p.size() + 1, 0);
  for (std::size_t i = 0; i < p.size(); ++i)
    own[i] = static_cast<std::uint64_t>(std::bit_cast<std::uint32_t>(p[i].value)) << 32 | i;
  std::vector<std::uint64_t> highest = own;
  neighbours.for_each([&](std::size_t i, Index a, Index b, Index c, Index d) {
    const std::uint64_t most = std::max(std::max(own[a], own[b]), std::max(own[c], own[d]));
    for (const Index j : {a, b, c, d}) highest[j] = std::max(highest[j], own[i]);
    highest[i] = std::max(highest[i], most);
  });
  const auto up = [&](std::size_t i) { return static_cast<std::size_t>(highest[i] & 0xffffffffu); };

  Relief relief;
  constexpr std::int32_t kUnknown = -1;
  std::vector<std::int32_t> home(p.size(), kUnknown);
  for (std::size_t i = 0; i < p.size(); ++i) {
    if (up(i) != i) continue;
    home[i] = static_cast<std::int32_t>(relief.basins.size());
    relief.basins.push_back({i, 0});
  }
  for (std::size_t i = 0; i < p.size(); ++i) {
    std::size_t top = i;
    while (home[top] == kUnknown) top = up(top);
    for (std::size_t k = i; home[k] == kUnknown; k = up(k)) home[k] = home[top];
    ++relief.basins[static_cast<std::size_t>(home[i])].area_px;
  }

  std::vector<Saddle> contacts;
  neighbours.for_each([&](std::size_t i, Index a, Index b, Index c, Index d) {
    const std::int32_t own_home = home[i];
    const auto elsewhere = [&](Index j) { return home[j == neighbours.none() ? i : j] ^ own_home; };
    if ((elsewhere(a) | elsewhere(b) | elsewhere(c) | elsewhere(d)) == 0) return;  // nearly all
    for (const Index j : {a, b, c, d})
      if (elsewhere(j) != 0)
        contacts.push_back(
            {std::min(own_home, home[j]), std::max(own_home, home[j]), std::min(p[i].value, p[j].value)});
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
