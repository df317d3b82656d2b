#include "reduce/stack/mesh_on_master.h"

#include <gtest/gtest.h>

#include "frame/background_map.h"

namespace ng::reduce {
namespace {

// A plane stays a plane under any affine map: the value at a master pixel is that of the frame pixel which falls there.
TEST(MeshOnMaster, FollowsTheMap) {
  constexpr int kBox = 32, kWidth = 640, kHeight = 480;
  Image<float> mesh(kWidth / kBox, kHeight / kBox);
  const auto plane = [](double x, double y) { return 100 + 0.1 * x - 0.05 * y; };
  for (int j = 0; j < mesh.height(); ++j)
    for (int i = 0; i < mesh.width(); ++i)
      mesh.plane()(i, j) = static_cast<float>(plane((i + 0.5) * kBox - 0.5, (j + 0.5) * kBox - 0.5));
  const math::Homography turned(math::Affine::similarity(1.3, 3.0, 780, 560));
  const Image<float> on_master = mesh_on_master({mesh, kBox, kWidth, kHeight}, turned, 900, 700, 2);
  const math::Homography back = turned.inverse();
  std::vector<float> row(900);
  int checked = 0;
  for (const int y : {200, 333, 400}) {
    mesh_row_between(on_master, kMasterBoxPx, y, 0, 900, row.data());
    for (int x = 150; x < 750; x += 37) {
      const math::Point f = back.apply({double(x), double(y)});
      // The boxes of the master around must lie on the frame.
      if (f.x < 140 || f.y < 140 || f.x > kWidth - 140 || f.y > kHeight - 140) continue;
      EXPECT_NEAR(row[static_cast<std::size_t>(x)], 2 * plane(f.x, f.y), 0.01) << x << " " << y;
      ++checked;
    }
  }
  EXPECT_GT(checked, 10);
}

// Far from the frame the value is that of its border, not what a curve runs off to.
TEST(MeshOnMaster, StaysAtTheBorderBeyondIt) {
  Image<float> mesh(4, 4, 1, 10.0f);
  mesh.plane()(3, 1) = 40;
  const Image<float> far =
      mesh_on_master({mesh, 32, 128, 128}, math::Homography(math::Affine{1, 0, 5000, 0, 1, 0}), 256, 128, 1);
  for (int i = 0; i < far.width(); ++i) EXPECT_NEAR(far.plane()(i, 1), far.plane()(0, 1), 1e-3);
}

}  // namespace
}  // namespace ng::reduce
