#include "reduce/stack/common_lens.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"

namespace ng::reduce {
namespace {

using math::Affine;
using math::Homography;
using math::PlaneMap;
using math::Point;

constexpr int kWidth = 4000, kHeight = 2800;

// Stars of a flat sky as two frames show them, the second being the reference.
std::vector<StarPlaces> shared(const PlaneMap& frame, const PlaneMap& reference, std::uint64_t stream) {
  math::Random random(11, stream);
  std::vector<StarPlaces> stars;
  for (int i = 0; i < 400; ++i) {
    const Point sky{kWidth * random.uniform(), kHeight * random.uniform()};
    Point p = frame.apply(sky), q = reference.apply(sky);
    if (p.x < 0 || p.y < 0 || p.x > kWidth - 1 || p.y > kHeight - 1) continue;
    p = {p.x + 0.02 * random.normal(), p.y + 0.02 * random.normal()};
    q = {q.x + 0.02 * random.normal(), q.y + 0.02 * random.normal()};
    stars.push_back({p, q, 0.0283});
  }
  return stars;
}

// Dithers of 200 px and a flip: the share of the lens, and maps as good as their stars, over the whole frame.
TEST(CommonLens, IsFoundFromDitheredAndFlippedFrames) {
  for (const double share : {0.005, -0.02}) {
    const auto lens = std::make_shared<const math::Bend>(lens_of(kWidth, kHeight, share));
    const PlaneMap reference(nullptr, Homography(), lens);
    std::vector<PlaneMap> frames;
    for (const Affine& t : {Affine{1, 0.002, 200, -0.002, 1, -160}, Affine{1, 0, -150, 0, 1, 220},
                            Affine{-1, 0.006, 4150, -0.006, -1, 2700}})
      frames.emplace_back(nullptr, Homography(t), lens);
    std::vector<std::vector<StarPlaces>> stars;
    for (std::size_t i = 0; i < frames.size(); ++i) stars.push_back(shared(frames[i], reference, 50 + i));
    const auto found = common_lens(stars, kWidth, kHeight);
    ASSERT_TRUE(found.has_value());
    // A dither of 200 px changes the bend by 3 k 200 px at the corner: 1000 stars of 0.028 px tell k to some 1e-5.
    EXPECT_NEAR(found->distortion, share, 4e-5);
    for (std::size_t i = 0; i < frames.size(); ++i) {
      EXPECT_NEAR(found->residual_px[i], 0.0283, 0.003);
      const PlaneMap truth = reference.after(frames[i].inverse());
      for (const Point p : {Point{250, 250}, Point{3700, 300}, Point{2000, 1400}, Point{3600, 2500}}) {
        EXPECT_NEAR(found->maps[i].apply(p).x, truth.apply(p).x, 0.02);
        EXPECT_NEAR(found->maps[i].apply(p).y, truth.apply(p).y, 0.02);
      }
    }
  }
}

TEST(CommonLens, NeedsStars) {
  const std::vector<std::vector<StarPlaces>> few{{{{1, 1}, {1, 1}, 0.02}, {{9, 1}, {9, 1}, 0.02}}};
  EXPECT_FALSE(common_lens(few, kWidth, kHeight).has_value());
  EXPECT_FALSE(common_lens({}, kWidth, kHeight).has_value());
}

}  // namespace
}  // namespace ng::reduce
