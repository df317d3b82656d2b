#include "measure/basins.h"

#include <algorithm>
#include <bit>
#include <cstdint>
#include <memory>
#include <tuple>
#include <utility>

namespace ng::measure {
namespace {

using Pixel = BrightPixels::Pixel;

// Visits the pixels in reading order, each with what the pixels to its left and above it were given. T is a value for
// every pixel; where a neighbour is not bright, there stands T{}.
template <typename T>
class Neighbours {
 public:
  explicit Neighbours(const BrightPixels& bright) : bright_(bright) {
    std::int32_t widest = 0;
    for (const Pixel& p : bright.pixels) widest = std::max(widest, p.x);
    above_.assign(static_cast<std::size_t>(widest) + 3, T{});
    here_ = above_;
  }

  // visit(i, left, and the three above) answers with the value of pixel i.
  template <typename Visit>
  void for_each(const Visit& visit) {
    const std::vector<Pixel>& p = bright_.pixels;
    for (std::size_t y = 0; y + 1 < bright_.row_begin.size(); ++y) {
      const std::size_t begin = bright_.row_begin[y], end = bright_.row_begin[y + 1];
      for (std::size_t i = begin; i < end; ++i) {
        const auto x = static_cast<std::size_t>(p[i].x) + 1;  // one place is free on each side
        here_[x] = visit(i, here_[x - 1], above_[x - 1], above_[x], above_[x + 1]);
      }
      if (y > 0)
        for (std::size_t i = bright_.row_begin[y - 1]; i < begin; ++i)
          above_[static_cast<std::size_t>(p[i].x) + 1] = T{};
      std::swap(here_, above_);
    }
  }

 private:
  const BrightPixels& bright_;
  std::vector<T> here_, above_;
};

// Where a pixel leads: up to another pixel, or, once that is known, home to its basin. Height and place stand in one
// number, of which the largest is taken without asking: noise makes every question a surprise. Heights are positive, so
// that their first bit is free to mark those that know their basin.
using Way = std::uint64_t;
constexpr Way kHome = Way{1} << 63;

Way way_to(const Pixel& pixel, std::size_t i) {
  return static_cast<Way>(std::bit_cast<std::uint32_t>(pixel.value)) << 32 | i;
}
std::size_t end_of(Way way) {
  return static_cast<std::size_t>(way & 0xffffffffu);
}

// From every pixel to the highest of itself and its neighbours; a peak points at itself.
std::unique_ptr<Way[]> ways_up(const BrightPixels& bright) {
  auto ways = std::make_unique_for_overwrite<Way[]>(bright.pixels.size() + 1);  // the last: of those that are not there
  const std::size_t nobody = bright.pixels.size();
  ways[nobody] = 0;
  struct Seen {
    Way own = 0;
    std::uint32_t index = 0xffffffffu;
  };
  Neighbours<Seen>(bright).for_each([&](std::size_t i, Seen a, Seen b, Seen c, Seen d) {
    const Way own = way_to(bright.pixels[i], i);
    for (const Seen& s : {a, b, c, d}) {
      Way& other = ways[std::min<std::size_t>(s.index, nobody)];
      other = std::max(other, own);
    }
    ways[i] = std::max(own, std::max(std::max(a.own, b.own), std::max(c.own, d.own)));
    return Seen{own, static_cast<std::uint32_t>(i)};
  });
  return ways;
}

// Turns ways up into ways home.
std::vector<Basin> follow_home(Way* ways, std::size_t count) {
  std::vector<Basin> basins;
  for (std::size_t i = 0; i < count; ++i) {
    if (end_of(ways[i]) != i) continue;
    ways[i] = kHome | basins.size();
    basins.push_back({i, 0});
  }
  for (std::size_t i = 0; i < count; ++i) {
    std::size_t top = i;
    while ((ways[top] & kHome) == 0) top = end_of(ways[top]);
    const Way home = ways[top];
    for (std::size_t k = i; (ways[k] & kHome) == 0;) k = end_of(std::exchange(ways[k], home));
    ++basins[end_of(home)].area_px;
  }
  return basins;
}

std::vector<Saddle> saddles_between(const BrightPixels& bright, const Way* ways) {
  struct Seen {
    std::int32_t home = -1;
    float height = 0;
  };
  std::vector<Saddle> contacts;
  Neighbours<Seen>(bright).for_each([&](std::size_t i, Seen a, Seen b, Seen c, Seen d) {
    const Seen own{static_cast<std::int32_t>(end_of(ways[i])), bright.pixels[i].value};
    const auto elsewhere = [&](const Seen& s) { return (s.home < 0 ? own.home : s.home) ^ own.home; };
    if ((elsewhere(a) | elsewhere(b) | elsewhere(c) | elsewhere(d)) == 0) return own;  // nearly all
    for (const Seen& s : {a, b, c, d})
      if (elsewhere(s) != 0)
        contacts.push_back({std::min(own.home, s.home), std::max(own.home, s.home), std::min(own.height, s.height)});
    return own;
  });
  std::sort(contacts.begin(), contacts.end(), [](const Saddle& s, const Saddle& t) {
    return std::tie(s.a, s.b, t.height) < std::tie(t.a, t.b, s.height);
  });
  const auto end = std::unique(contacts.begin(), contacts.end(),
                               [](const Saddle& s, const Saddle& t) { return s.a == t.a && s.b == t.b; });
  contacts.erase(end, contacts.end());
  std::sort(contacts.begin(), contacts.end(), [](const Saddle& s, const Saddle& t) {
    return std::tie(t.height, s.a, s.b) < std::tie(s.height, t.a, t.b);
  });
  return contacts;
}

}  // namespace

Relief find_basins(const BrightPixels& bright) {
  const std::unique_ptr<Way[]> ways = ways_up(bright);
  Relief relief;
  relief.basins = follow_home(ways.get(), bright.pixels.size());
  relief.saddles = saddles_between(bright, ways.get());
  return relief;
}

}  // namespace ng::measure
