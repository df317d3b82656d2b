#include "finish/frame_grid.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "finish/objects_on_frame.h"
#include "math/vec3.h"

namespace ng::finish {
namespace {

constexpr int kWidth = 1500, kHeight = 1000;

Wcs looking_at(double ra_deg, double dec_deg, double turn_deg, double scale_arcsec) {
  Wcs wcs;
  wcs.reference_x = 740;
  wcs.reference_y = 505;
  wcs.ra_rad = deg_to_rad(ra_deg);
  wcs.dec_rad = deg_to_rad(dec_deg);
  const double s = scale_arcsec / kArcsecPerRadian, c = std::cos(deg_to_rad(turn_deg)),
               d = std::sin(deg_to_rad(turn_deg));
  wcs.cd_rad = {-s * c, s * d, -s * d, -s * c};
  return wcs;
}

bool on_border(math::Point p) {
  const double x = std::min(std::fabs(p.x + 0.5), std::fabs(p.x - kWidth + 0.5));
  const double y = std::min(std::fabs(p.y + 0.5), std::fabs(p.y - kHeight + 0.5));
  return std::min(x, y) < 1e-3;
}

// Every point has the line's own coordinate and lies on the frame; open ends touch the border or a pole.
void expect_true_lines(const Wcs& wcs, const FrameGrid& grid) {
  for (const GridLine& line : grid.lines) {
    SCOPED_TRACE(line.label);
    for (const auto& piece : line.pieces) {
      for (const math::Point p : piece) {
        const SkyPlace at = wcs.sky_of(p);
        const double off = line.meridian
                               ? std::remainder(rad_to_deg(at.ra_rad) - line.value_deg, 360.0) * std::cos(at.dec_rad)
                               : rad_to_deg(at.dec_rad) - line.value_deg;
        EXPECT_NEAR(off, 0, 1e-7);
        EXPECT_GE(p.x, -0.5);
        EXPECT_LE(p.x, kWidth - 0.5);
      }
      const auto loop = std::hypot(piece.front().x - piece.back().x, piece.front().y - piece.back().y) < 2;
      const auto pole = [&](math::Point p) { return std::fabs(wcs.sky_of(p).dec_rad) > deg_to_rad(89.999); };
      EXPECT_TRUE(loop || on_border(piece.front()) || pole(piece.front())) << piece.front().x << " " << piece.front().y;
      EXPECT_TRUE(loop || on_border(piece.back()) || pole(piece.back())) << piece.back().x << " " << piece.back().y;
    }
  }
}

TEST(FrameGrid, LinesLieOnTheSkyTheyName) {
  for (const double turn : {0.0, 37.0, 180.0, 261.0})
    for (const auto& [ra, dec] : {std::pair{83.0, -5.4}, {0.2, 61.0}, {359.9, -70.0}, {210.0, 89.5}, {10.0, -90.0}})
      for (const double scale : {1.1, 7.0, 60.0}) {
        SCOPED_TRACE(testing::Message() << ra << " " << dec << " turn " << turn << " scale " << scale);
        const Wcs wcs = looking_at(ra, dec, turn, scale);
        const FrameGrid grid = frame_grid(wcs, kWidth, kHeight);
        expect_true_lines(wcs, grid);
        const auto meridians =
            std::count_if(grid.lines.begin(), grid.lines.end(), [](const auto& l) { return l.meridian; });
        EXPECT_GE(meridians, 2);
        EXPECT_GE(static_cast<long>(grid.lines.size()) - meridians, 1);
        EXPECT_LE(grid.lines.size(), 40U);
      }
}

TEST(FrameGrid, NorthEastAndTheScaleBar) {
  const FrameGrid grid = frame_grid(looking_at(83, -5, 0, 2), kWidth, kHeight);
  // No turn: north is up, where y falls, and east to the left.
  EXPECT_NEAR(grid.directions.north.y, -1, 1e-3);
  EXPECT_NEAR(grid.directions.east.x, -1, 1e-3);
  // A quarter of 1500 px of 2 arcsec are 12.5 arcmin.
  EXPECT_EQ(grid.scale.label, "10'");
  EXPECT_NEAR(grid.scale.length_px, 300, 1e-6);
}

TEST(ObjectsOnFrame, OutlinesAreCirclesOnTheSky) {
  const Wcs wcs = looking_at(83.82, -5.39, 20, 10);
  std::vector<catalog::SkyObject> objects(4);
  objects[0].place = {deg_to_rad(83.82), deg_to_rad(-5.39)};
  objects[0].major_arcmin = 60;
  objects[0].minor_arcmin = 40;
  objects[1].place = {deg_to_rad(83.6), deg_to_rad(-5.2)};
  objects[2].place = {deg_to_rad(203), deg_to_rad(47)};  // the other side of the sky
  objects[3].place = {deg_to_rad(83.82), deg_to_rad(-3.0)};
  objects[3].major_arcmin = 200;  // centre beyond the frame, its edge on it
  const auto list = objects_on_frame(wcs, kWidth, kHeight, objects);
  ASSERT_EQ(list.size(), 3U);
  EXPECT_EQ(list[0].object, 3U);
  EXPECT_EQ(list[1].object, 0U);
  EXPECT_FALSE(list[1].round);
  EXPECT_NEAR(list[1].radius_px, 180, 1);  // 30 arcmin of 10 arcsec pixels
  EXPECT_TRUE(list[2].outline.empty());
  const math::Vec3 centre = math::from_angles(objects[0].place.ra_rad, objects[0].place.dec_rad);
  for (const math::Point p : list[1].outline) {
    const SkyPlace at = wcs.sky_of(p);
    EXPECT_NEAR(math::separation(centre, math::from_angles(at.ra_rad, at.dec_rad)), deg_to_rad(0.5), 1e-9);
  }
}

}  // namespace
}  // namespace ng::finish
