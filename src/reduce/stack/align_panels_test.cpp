#include "reduce/stack/align_panels.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "math/bend_fit.h"
#include "math/random.h"
#include "reduce/stack/register.h"
#include "reduce/stack/union_grid.h"

namespace ng::reduce {
namespace {

using math::Affine;
using math::Homography;
using math::Point;

constexpr int kWidth = 2000, kHeight = 1400;
constexpr double kFocalPx = 60000;  // 2 degrees across: the tangent planes of neighbours differ by some pixels

// A camera turned by (ax, ay) about its own axes, then rolled: sky directions to pixels, rotations written out.
struct Camera {
  double ax, ay, roll, scale;
  double lens = 0;  // share by which the corners are drawn outwards
  bool see(double x, double y, double z, Point& p) const {
    const double x1 = std::cos(ax) * x - std::sin(ax) * z, z1 = std::sin(ax) * x + std::cos(ax) * z;
    const double y2 = std::cos(ay) * y - std::sin(ay) * z1, z2 = std::sin(ay) * y + std::cos(ay) * z1;
    const double u = kFocalPx * scale * x1 / z2, v = kFocalPx * scale * y2 / z2;
    p = {std::cos(roll) * u - std::sin(roll) * v + (kWidth - 1) / 2.0,
         std::sin(roll) * u + std::cos(roll) * v + (kHeight - 1) / 2.0};
    const Point middle{(kWidth - 1) / 2.0, (kHeight - 1) / 2.0};
    p = math::Bend::radial(middle, std::hypot(middle.x, middle.y), lens).bend(p);
    return p.x > 3 && p.y > 3 && p.x < kWidth - 4 && p.y < kHeight - 4;
  }
};

struct Sky {
  std::vector<std::array<double, 3>> places;  // tangent of the direction from the middle of the field; flux
  explicit Sky(std::uint64_t seed, int count) {
    math::Random random(seed, 0);
    for (int i = 0; i < count; ++i)
      places.push_back({(random.uniform() - 0.5) * 0.12, (random.uniform() - 0.5) * 0.09,
                        1000 * std::pow(random.uniform() + 1e-3, -1.2)});
    std::sort(places.begin(), places.end(), [](const auto& a, const auto& b) { return a[2] > b[2]; });
  }
  // What a camera sees of it, the brightest 300, each place off by `error_px`.
  [[nodiscard]] StarList seen(const Camera& camera, double error_px, std::uint64_t seed) const {
    math::Random random(seed, 1);
    StarList list{kWidth, kHeight, {}};
    for (const auto& [x, y, flux] : places) {
      Point p;
      if (list.stars.size() >= 300 || !camera.see(x, y, 1, p)) continue;
      Star s;
      s.x = p.x + error_px * random.normal();
      s.y = p.y + error_px * random.normal();
      s.x_error = s.y_error = error_px;
      s.flux = flux;
      s.flux_error = flux / 100;
      list.stars.push_back(s);
    }
    return list;
  }
};

// Three by two panels that share a tenth; one of them has been turned over by the mount, one is a little larger.
std::vector<Camera> six_cameras() {
  std::vector<Camera> cameras;
  for (int row = 0; row < 2; ++row)
    for (int column = 0; column < 3; ++column)
      cameras.push_back({(column - 1) * 0.9 * kWidth / kFocalPx, (row - 0.5) * 0.9 * kHeight / kFocalPx, 0.004 * column,
                         1 + 2e-5 * row});
  cameras[4].roll += 3.14159265;
  cameras[3].scale *= 1.0003;
  return cameras;
}

// From a panel to the grid of the first one, by what the cameras are.
double worst_error(const Camera& grid, const Camera& camera, const math::PlaneMap& map) {
  double worst = 0;
  for (double x = -0.05; x <= 0.05; x += 0.0005)
    for (double y = -0.04; y <= 0.04; y += 0.0005) {
      Point p, q;
      if (!camera.see(x, y, 1, p)) continue;
      grid.see(x, y, 1, q);
      const Point m = map.apply(p);
      worst = std::max(worst, std::hypot(m.x - q.x, m.y - q.y));
    }
  return worst;
}

// Largest distance between the places that two panels give one point of the sky.
double worst_seam(const std::vector<Camera>& cameras, const std::vector<math::PlaneMap>& maps) {
  double worst = 0;
  for (double x = -0.05; x <= 0.05; x += 0.0005)
    for (double y = -0.04; y <= 0.04; y += 0.0005)
      for (std::size_t i = 0; i < cameras.size(); ++i)
        for (std::size_t j = i + 1; j < cameras.size(); ++j) {
          Point p, q;
          if (!cameras[i].see(x, y, 1, p) || !cameras[j].see(x, y, 1, q)) continue;
          const Point a = maps[i].apply(p), b = maps[j].apply(q);
          worst = std::max(worst, std::hypot(a.x - b.x, a.y - b.y));
        }
  return worst;
}

struct Mosaic {
  std::vector<Panel> panels;
  std::vector<PanelLink> links;
};

// As a reduction does it: each panel joined to one that has its place already, then all stars that any two share.
Mosaic joined(const std::vector<StarList>& lists) {
  Mosaic m;
  m.panels.resize(lists.size(), {kWidth, kHeight, {}});
  std::vector<bool> placed(lists.size(), false);
  placed[0] = true;
  for (std::size_t round = 0; round < lists.size(); ++round)
    for (std::size_t i = 0; i < lists.size(); ++i)
      for (std::size_t j = 0; j < lists.size() && !placed[i]; ++j) {
        if (!placed[j]) continue;
        const auto r = register_neighbours(lists[i], lists[j]);
        if (!r.ok()) continue;
        m.panels[i].to_grid = math::composed(m.panels[j].to_grid, r->map, kWidth, kHeight);
        placed[i] = true;
      }
  for (std::size_t i = 0; i < lists.size(); ++i) {
    EXPECT_TRUE(placed[i]) << "panel " << i;
    for (std::size_t j = i + 1; j < lists.size(); ++j) {
      auto stars = common_stars(lists[i], lists[j], m.panels[j].to_grid.inverse().after(m.panels[i].to_grid), 6);
      if (!stars.empty()) m.links.push_back({static_cast<int>(i), static_cast<int>(j), std::move(stars)});
    }
  }
  return m;
}

TEST(AlignPanels, SixPanelsCloseTheirRingToWhatTheirStarsAllow) {
  const std::vector<Camera> cameras = six_cameras();
  for (const std::optional<double> told : {std::optional<double>(), std::optional<double>(1.02 * kFocalPx)}) {
    const Sky sky(7, 9000);
    std::vector<StarList> lists;
    for (std::size_t i = 0; i < cameras.size(); ++i) lists.push_back(sky.seen(cameras[i], 0.02, 40 + i));
    const Mosaic m = joined(lists);
    const auto fit = align_panels(m.panels, m.links, told);
    ASSERT_TRUE(fit.ok()) << fit.error().message();
    // Each overlap has some 25 stars of 0.02 px on either side; the fit may be no worse than they are.
    EXPECT_LT(fit->residual_px, 1.25 * fit->expected_px);
    // 25 pairs of 0.03 px in a strip 200 px wide (rms 58) tell a scale to 1e-4: at the far side of a panel, 1900 px on,
    // 0.2 px, at the far side of the next 0.3: three standard deviations of that.
    for (std::size_t i = 0; i < cameras.size(); ++i)
      EXPECT_LT(worst_error(cameras[0], cameras[i], fit->to_grid[i]), 0.9) << i;
    // What a picture shows is whether neighbours agree where they meet: 0.03 / sqrt(25) px, in the corners of a strip
    // twice that, three standard deviations.
    EXPECT_LT(worst_seam(cameras, fit->to_grid), 0.04);
  }
}

TEST(AlignPanels, WithoutErrorsTheMapsAreExact) {
  const std::vector<Camera> cameras = six_cameras();
  const Sky sky(8, 9000);
  std::vector<StarList> lists;
  for (const Camera& camera : cameras) lists.push_back(sky.seen(camera, 0, 1));
  const Mosaic m = joined(lists);
  const auto fit = align_panels(m.panels, m.links, std::nullopt);
  ASSERT_TRUE(fit.ok()) << fit.error().message();
  // Of the order of what the weak priors pull.
  for (std::size_t i = 0; i < cameras.size(); ++i)
    EXPECT_LT(worst_error(cameras[0], cameras[i], fit->to_grid[i]), 0.02) << i;
  EXPECT_NEAR(fit->focal_length_px, kFocalPx, 0.03 * kFocalPx);
}

// A lens that moves the corners by 5 px would double every star at the seams of a flat fit (0.4 px and more); told
// apart from the turn of the tangent planes, it leaves what the stars allow.
TEST(AlignPanels, ALensIsTakenOut) {
  std::vector<Camera> cameras = six_cameras();
  for (Camera& camera : cameras) camera.lens = 0.004;
  const Sky sky(9, 9000);
  std::vector<StarList> lists;
  for (std::size_t i = 0; i < cameras.size(); ++i) lists.push_back(sky.seen(cameras[i], 0.02, 70 + i));
  Mosaic m = joined(lists);
  auto fit = align_panels(m.panels, m.links, kFocalPx);
  ASSERT_TRUE(fit.ok()) << fit.error().message();
  for (std::size_t i = 0; i < cameras.size(); ++i) m.panels[i].to_grid = fit->to_grid[i];
  m.links.clear();
  for (std::size_t i = 0; i < lists.size(); ++i)
    for (std::size_t j = i + 1; j < lists.size(); ++j) {
      auto stars = common_stars(lists[i], lists[j], m.panels[j].to_grid.inverse().after(m.panels[i].to_grid), 2);
      if (!stars.empty()) m.links.push_back({static_cast<int>(i), static_cast<int>(j), std::move(stars)});
    }
  fit = align_panels(m.panels, m.links, kFocalPx);
  ASSERT_TRUE(fit.ok());
  EXPECT_LT(fit->residual_px, 1.25 * fit->expected_px);
  // 150 pairs of 0.03 px along the sides tell the share to 2e-5, three standard deviations of which are 0.07 px in a
  // corner.
  EXPECT_NEAR(fit->distortion, 0.004, 6e-5);
  EXPECT_LT(worst_seam(cameras, fit->to_grid), 0.04 + 0.07);
}

TEST(AlignPanels, APanelThatHangsOnThreeStarsIsRefused) {
  const Panel panel{kWidth, kHeight, {}};
  const StarPlaces star{{1, 1}, {1, 1}, 0.02};
  const std::vector<Panel> panels{panel, panel};
  const std::vector<PanelLink> links{{0, 1, {star, star, star}}};
  EXPECT_EQ(align_panels(panels, links, std::nullopt).error().code(), Code::kNoMatch);
}

TEST(RegisterNeighbours, OtherFieldsAreRefused) {
  for (std::uint64_t k = 0; k < 40; ++k) {
    const Camera camera{0, 0, 0, 1};
    const auto r =
        register_neighbours(Sky(100 + k, 9000).seen(camera, 0.02, 1), Sky(500 + k, 9000).seen(camera, 0.02, 2));
    EXPECT_FALSE(r.ok()) << k;
  }
}

TEST(UnionGrid, HoldsEveryFrameAndKnowsHowMuchTheyShare) {
  const FrameOnGrid a{100, 80, {}};
  const FrameOnGrid b{100, 80, Homography(Affine{-1, 0, 189, 0, -1, 39})};  // turned over, to the right and up
  const auto box = union_of(std::vector<FrameOnGrid>{a, b});
  ASSERT_TRUE(box.has_value());
  EXPECT_EQ(box->x0, 0);
  EXPECT_EQ(box->y0, -40);
  EXPECT_EQ(box->width, 190);
  EXPECT_EQ(box->height, 120);
  EXPECT_NEAR(overlap_share(a, b), 0.1 * 0.5, 0.02);  // ten columns of a hundred, half of the rows
  EXPECT_FALSE(union_of(std::vector<FrameOnGrid>{{100, 80, Homography(Affine{900, 0, 0, 0, 1, 0})}}).has_value());
}

}  // namespace
}  // namespace ng::reduce
