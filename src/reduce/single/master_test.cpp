#include "reduce/single/master.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstring>

#include "math/random.h"
#include "reduce/test_source.h"

namespace ng::reduce {
namespace {

// Counts by whole numbers alone, so that they are the same on any machine; a hit in every frame.
std::vector<std::unique_ptr<FrameSource>> frames(int count, int level) {
  std::vector<std::unique_ptr<FrameSource>> sources;
  for (int j = 0; j < count; ++j) {
    math::Random random(7, static_cast<std::uint64_t>(j));
    Image<float> image(37, 20);
    for (int y = 0; y < image.height(); ++y)
      for (int x = 0; x < image.width(); ++x)
        image.plane()(x, y) = static_cast<float>(level + (x * 31 + y * 17) % 50 + static_cast<int>(random.bits() % 16));
    image.plane()(5 + j, 9) = 60000;
    sources.push_back(std::make_unique<MemorySource>(std::move(image)));
  }
  return sources;
}

// FNV-1a over the bits of all values.
std::uint64_t sum_of(const Master& master) {
  std::uint64_t sum = 0xcbf29ce484222325U;
  const auto add = [&](float value) {
    std::uint32_t bits = 0;
    std::memcpy(&bits, &value, sizeof bits);
    sum = (sum ^ bits) * 0x100000001b3U;
  };
  for (int y = 0; y < master.image.height(); ++y)
    for (int x = 0; x < master.image.width(); ++x) add(master.image.plane()(x, y));
  add(master.single_noise);
  return sum;
}

// Masters lie in workspaces for years, and a reduction takes them for what it would make itself. Where this fails the
// algorithm has changed: count kMasterVersion up and put the new sums here.
TEST(Master, AChangeOfAnyBitCountsTheVersionUp) {
  ASSERT_EQ(kMasterVersion, 1);
  const auto dark = make_master(frames(7, 500), {}, {});
  ASSERT_TRUE(dark.ok());
  EXPECT_EQ(sum_of(*dark), 13553755267230741147U);
  MasterOptions normalised;
  normalised.zero_level = 500;
  normalised.normalise = true;
  normalised.bayer = BayerPattern::kRggb;
  const auto flat = make_master(frames(6, 20000), normalised, {});
  ASSERT_TRUE(flat.ok());
  EXPECT_EQ(sum_of(*flat), 2933422786749183561U);
}

TEST(Master, LeavesOutWhatHitsOneFrameAlone) {
  const auto sources = frames(7, 500);
  const auto master = make_master(sources, {}, {});
  ASSERT_TRUE(master.ok());
  for (int j = 0; j < 7; ++j) EXPECT_LT(master->image.plane()(5 + j, 9), 566);  // 500 + 50 + 16: the most without a hit
}

}  // namespace
}  // namespace ng::reduce
