#include "measure/basins.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "math/random.h"

namespace ng::measure {
namespace {

// Heights of few different values, so that plateaus and ties are met too; some places are left out.
BrightPixels rough_country(int width, int height, int levels, std::uint64_t seed) {
  BrightPixels bright;
  math::Random random(seed, 1);
  bright.row_begin.push_back(0);
  for (int y = 0; y < height; ++y) {
    for (int x = 0; x < width; ++x) {
      const double value = random.uniform();
      if (value > 0.3) bright.pixels.push_back({x, static_cast<float>(std::floor(value * levels))});
    }
    bright.row_begin.push_back(bright.pixels.size());
  }
  return bright;
}

bool touch(const BrightPixels& bright, std::size_t a, std::size_t b) {
  return std::abs(bright.pixels[a].x - bright.pixels[b].x) <= 1 && std::abs(bright.row_of(a) - bright.row_of(b)) <= 1;
}

// The slow twin is the definition, pair by pair.
TEST(Basins, AreThoseOfTheDefinition) {
  for (const int levels : {4, 20, 100000}) {
    const BrightPixels bright = rough_country(31, 23, levels, static_cast<std::uint64_t>(levels));
    const auto& p = bright.pixels;
    const auto above = [&](std::size_t a, std::size_t b) {
      return p[a].value > p[b].value || (p[a].value == p[b].value && a > b);
    };
    std::vector<std::size_t> top(p.size());
    for (std::size_t i = 0; i < p.size(); ++i) {
      for (std::size_t here = i;; here = top[i]) {
        top[i] = here;
        for (std::size_t j = 0; j < p.size(); ++j)
          if (touch(bright, here, j) && above(j, top[i])) top[i] = j;
        if (top[i] == here) break;
      }
    }
    std::map<std::size_t, int> areas;
    for (const std::size_t t : top) ++areas[t];
    std::map<std::pair<std::size_t, std::size_t>, float> saddles;
    for (std::size_t i = 0; i < p.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        if (!touch(bright, i, j) || top[i] == top[j]) continue;
        const auto key = std::minmax(top[i], top[j]);
        const float height = std::min(p[i].value, p[j].value);
        const auto [place, is_new] = saddles.emplace(key, height);
        if (!is_new) place->second = std::max(place->second, height);
      }
    }

    const Relief relief = find_basins(bright);
    ASSERT_EQ(relief.basins.size(), areas.size());
    for (const Basin& basin : relief.basins) EXPECT_EQ(basin.area_px, areas.at(basin.peak));
    ASSERT_EQ(relief.saddles.size(), saddles.size());
    float last = 1e9f;
    for (const Saddle& s : relief.saddles) {
      const auto a = relief.basins[static_cast<std::size_t>(s.a)].peak;
      const auto b = relief.basins[static_cast<std::size_t>(s.b)].peak;
      EXPECT_EQ(s.height, saddles.at(std::minmax(a, b)));
      EXPECT_LE(s.height, last);
      last = s.height;
    }
  }
}

TEST(Basins, NothingGivesNothing) {
  const Relief relief = find_basins({{}, {0, 0, 0}});
  EXPECT_TRUE(relief.basins.empty());
  EXPECT_TRUE(relief.saddles.empty());
}

}  // namespace
}  // namespace ng::measure
