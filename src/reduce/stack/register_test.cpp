#include "reduce/stack/register.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/random.h"
#include "reduce/stack/normalise.h"

namespace ng::reduce {
namespace {

using math::Affine;
using math::Homography;

StarList sky(int n, std::uint64_t stream) {
  math::Random random(5, stream);
  StarList list{4000, 2800, {}};
  for (int i = 0; i < n; ++i) {
    Star s;
    s.x = 4000 * random.uniform();
    s.y = 2800 * random.uniform();
    s.flux = 1e6 / (1 + i);
    s.flux_error = s.flux / 50;
    s.x_error = s.y_error = 0.02;
    list.stars.push_back(s);
  }
  return list;
}

StarList seen(const StarList& list, const math::PlaneMap& map, double transmission, std::uint64_t stream) {
  math::Random random(6, stream);
  StarList out{4000, 2800, {}};
  for (Star s : list.stars) {
    const auto p = map.apply({s.x, s.y});
    s.x = p.x + 0.02 * random.normal();
    s.y = p.y + 0.02 * random.normal();
    s.flux *= transmission * (1 + 0.02 * random.normal());
    if (s.x > 0 && s.y > 0 && s.x < 4000 && s.y < 2800 && random.uniform() > 0.1) out.stars.push_back(s);
  }
  return out;
}

TEST(Register, FindsTheMapToAFewThousandthsOfAPixel) {
  const StarList reference = sky(400, 1);
  std::uint64_t stream = 0;
  for (const Homography& map :
       {Homography(Affine::similarity(1, 0.01, 120, -80)), Homography(Affine::similarity(1, 3.1416, 4020, 2750)),
        Homography(Affine{-1, 0.002, 3990, 0.002, 1, 10}),
        Homography({1.0, 0.001, 50, -0.001, 1.0, -60, 4e-7, -3e-7})}) {
    const auto r = register_stars(seen(reference, map, 1, ++stream), reference);
    ASSERT_TRUE(r.ok()) << r.error().message();
    const Homography truth = map.inverse();
    for (const math::Point p :
         {math::Point{300, 300}, math::Point{3700, 400}, math::Point{2000, 1400}, math::Point{3600, 2500}}) {
      // 350 stars of 0.02 px: 0.001 px in the middle, a few times that in the corners of a homography.
      EXPECT_NEAR(r->map.apply(p).x, truth.apply(p).x, 0.02) << stream;
      EXPECT_NEAR(r->map.apply(p).y, truth.apply(p).y, 0.02) << stream;
    }
    EXPECT_NEAR(r->residual_px, 0.02, 0.002);  // the scatter put in; the reference has none
    EXPECT_GT(r->pairs, 200);
  }
}

// A lens and a dither of 200 px: the two pictures differ by a cubic that reaches 1.7 px in the corners. Without a bend
// such pairs leave 0.3 px; a flat pair gets none.
TEST(Register, FollowsALens) {
  const StarList flat_sky = sky(500, 31);
  const Homography shifted(Affine{1, 0.002, 200, -0.002, 1, -160});
  const auto lens = std::make_shared<const math::Bend>(math::Bend::radial({1999.5, 1399.5}, 2441, 0.005));
  const math::PlaneMap at_home(nullptr, Homography(), lens), moved(nullptr, shifted, lens);
  const StarList reference = seen(flat_sky, at_home, 1, 41), frame = seen(flat_sky, moved, 1, 42);
  const auto r = register_stars(frame, reference);
  ASSERT_TRUE(r.ok()) << r.error().message();
  EXPECT_TRUE(r->map.bent());
  // Both lists scatter by 0.02 px.
  EXPECT_NEAR(r->residual_px, 0.0283, 0.003);
  const math::PlaneMap truth = at_home.after(moved.inverse());
  for (const math::Point p :
       {math::Point{300, 300}, math::Point{3700, 400}, math::Point{2000, 1400}, math::Point{3600, 2300}}) {
    EXPECT_NEAR(r->map.apply(p).x, truth.apply(p).x, 0.03);
    EXPECT_NEAR(r->map.apply(p).y, truth.apply(p).y, 0.03);
  }
  const auto flat = register_stars(seen(flat_sky, shifted, 1, 43), seen(flat_sky, Homography(), 1, 44));
  ASSERT_TRUE(flat.ok());
  EXPECT_FALSE(flat->map.bent());
}

TEST(Register, UnrelatedFramesFailAndTooFewAreSaid) {
  EXPECT_EQ(register_stars(sky(200, 1), sky(200, 2)).error().code(), Code::kNoMatch);
  EXPECT_EQ(register_stars(sky(3, 1), sky(200, 1)).error().code(), Code::kTooFew);
}

// How far a pair of frames may differ. Each limit on twenty different skies; the false-alarm bound of the matcher is
// one in a million, so one failure of "no" in twenty would be a fault.
constexpr int kSkies = 20;

// `common` stars that both frames show, and others that only one does.
TEST(RegisterLimits, SixStarsInCommonSuffice) {
  for (std::uint64_t k = 0; k < kSkies; ++k) {
    const Homography map(Affine::similarity(1, 0.7, 900, -500));
    StarList reference = sky(6, 100 + k);
    // Nowhere near the border, so that all six stay on the frame.
    for (Star& s : reference.stars) {
      s.x = 1000 + s.x / 2;
      s.y = 700 + s.y / 2;
    }
    StarList frame = reference;
    for (Star& s : frame.stars) {
      const auto p = map.apply({s.x, s.y});
      s.x = p.x;
      s.y = p.y;
    }
    const auto add = [](StarList& list, std::uint64_t stream) {
      for (const Star& s : sky(4, stream).stars) list.stars.push_back(s);
    };
    add(reference, 300 + k);
    add(frame, 400 + k);
    const auto r = register_stars(frame, reference);
    ASSERT_TRUE(r.ok()) << k << ": " << r.error().message();
    const math::Point back = r->map.apply({frame.stars[0].x, frame.stars[0].y});
    EXPECT_NEAR(back.x, reference.stars[0].x, 0.1) << k;
    EXPECT_NEAR(back.y, reference.stars[0].y, 0.1) << k;
  }
}

TEST(RegisterLimits, FiftyThousandStarsAreNotTooMany) {
  const StarList reference = sky(50000, 1);
  const Homography map(Affine::similarity(1, 0.01, 30, -20));
  const auto r = register_stars(seen(reference, map, 1, 1), reference);
  ASSERT_TRUE(r.ok()) << r.error().message();
  EXPECT_GT(r->pairs, 35000);
  EXPECT_NEAR(r->map.apply({2000, 1400}).x, map.inverse().apply({2000, 1400}).x, 0.002);
}

TEST(RegisterLimits, AFifthOfTheFieldSuffices) {
  for (std::uint64_t k = 0; k < kSkies; ++k) {
    // A field twice as wide holds both frames; the second begins where four fifths of the first have gone by.
    StarList wide = sky(800, 500 + k);
    for (Star& s : wide.stars) s.x *= 2;
    const Homography map(Affine::similarity(1, 0.02, -3200, 0));
    const auto r = register_stars(seen(wide, map, 1, 500 + k), seen(wide, Homography(), 1, 600 + k));
    ASSERT_TRUE(r.ok()) << k << ": " << r.error().message();
    EXPECT_NEAR(r->map.apply({500, 1400}).x, map.inverse().apply({500, 1400}).x, 0.05) << k;
    EXPECT_NEAR(r->map.apply({500, 1400}).y, map.inverse().apply({500, 1400}).y, 0.05) << k;
  }
}

TEST(RegisterLimits, AnotherCameraMaySeeThreeTimesLarger) {
  for (std::uint64_t k = 0; k < kSkies; ++k) {
    const StarList reference = sky(2500, 700 + k);
    const Homography map(Affine::similarity(3, 0.4, -3000, -4000));
    const auto r = register_stars(seen(reference, map, 1, 700 + k), reference);
    ASSERT_TRUE(r.ok()) << k << ": " << r.error().message();
    EXPECT_NEAR(r->map.apply({2000, 1400}).x, map.inverse().apply({2000, 1400}).x, 0.02) << k;
  }
}

TEST(RegisterLimits, OtherFieldsAreRefused) {
  for (std::uint64_t k = 0; k < kSkies; ++k) {
    for (const int n : {8, 40, 400})
      EXPECT_EQ(register_stars(sky(n, 800 + k), sky(n, 900 + k)).error().code(), Code::kNoMatch) << k << " " << n;
  }
}

TEST(FluxScale, IsTheTransmission) {
  const StarList reference = sky(300, 1);
  const FluxScale f = flux_scale(seen(reference, Homography(), 0.62, 9), reference, Homography());
  EXPECT_NEAR(f.value, 0.62, 5 * 0.62 * 0.02 / std::sqrt(200.0));
  EXPECT_LT(std::fabs(f.value - 0.62), 5 * f.error);
}

// Both frames hold the same "nebula"; only their skies differ, by a gradient. The nebula must not enter the difference.
TEST(SkyDifference, IgnoresTheNebula) {
  const auto map = [](double level, double slope, double nebula) {
    BackgroundMap m{640, 448, 64, Image<float>(10, 7), Image<float>(10, 7, 1, 3.0f)};
    for (int j = 0; j < 7; ++j)
      for (int i = 0; i < 10; ++i)
        m.level.plane()(i, j) =
            static_cast<float>(level + slope * i + nebula * std::exp(-((i - 4) * (i - 4) + (j - 3) * (j - 3)) / 3.0));
    return m;
  };
  const BackgroundMap frame = map(300, 2, 0.8 * 90), reference = map(200, 0, 90);
  const Homography same;
  const auto d = sky_difference({frame, 1 / 0.8, same}, {reference, 1, same});
  for (const double x : {31.5, 300.0, 607.5}) {
    const double i = (x + 0.5) / 64 - 0.5;
    EXPECT_NEAR(d.at(x, 220), (300 + 2 * i) / 0.8 - 200, 0.3);
  }
}

}  // namespace
}  // namespace ng::reduce
