#include "catalog/star_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <fstream>

#include "base/angle.h"
#include "math/random.h"

namespace ng::catalog {
namespace {

using testing::HasSubstr;

class StarFiles : public testing::Test {
 protected:
  StarFiles()
      : folder_(std::filesystem::temp_directory_path() /
                ("ng-stars-" + std::to_string(getpid()) + "-" +
                 testing::UnitTest::GetInstance()->current_test_info()->name())) {
    std::filesystem::create_directories(folder_);
  }
  ~StarFiles() override { std::filesystem::remove_all(folder_); }

  std::filesystem::path write(const std::vector<std::byte>& bytes) {
    const auto path = folder_ / "stars";
    std::ofstream(path, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
    return path;
  }

 private:
  std::filesystem::path folder_;
};

std::vector<CatalogStar> random_sky(int count) {
  math::Random random(11, 0);
  std::vector<CatalogStar> stars;
  for (int i = 0; i < count; ++i) {
    CatalogStar s{2 * kPi * random.uniform(), std::asin(2 * random.uniform() - 1), 3 + 9 * random.uniform(), {}};
    if (i % 5 != 0) s.b_minus_v = 2 * random.uniform() - 0.3;
    stars.push_back(s);
  }
  return stars;
}

// The plain twin: every star looked at, separation by vectors.
int count_slow(const std::vector<CatalogStar>& stars, double ra, double dec, double radius, double faintest) {
  int count = 0;
  for (const CatalogStar& s : stars) {
    const double x = std::cos(s.dec_rad) * std::cos(s.ra_rad - ra), y = std::cos(s.dec_rad) * std::sin(s.ra_rad - ra);
    const double z = std::sin(s.dec_rad);
    const double along = x * std::cos(dec) + z * std::sin(dec);
    const double across = std::hypot(y, z * std::cos(dec) - x * std::sin(dec));
    if (std::atan2(across, along) <= radius && std::round(s.v_mag * 1000) <= faintest * 1000) ++count;
  }
  return count;
}

TEST_F(StarFiles, ConeFindsWhatLookingAtEveryStarFinds) {
  const auto stars = random_sky(20000);
  const auto file = StarFile::open(write(*encode_star_file(stars)));
  ASSERT_TRUE(file.ok());
  EXPECT_EQ(file->size(), stars.size());
  struct Cone {
    double ra_deg, dec_deg, radius_deg;
  };
  for (const Cone& c : {Cone{97.98, 4.94, 3},
                        {0.2, 10, 2},
                        {359.9, -45, 5},
                        {-1, 0, 4},
                        {120, 88, 5},
                        {10, -89.9, 1},
                        {200, 89, 0.5},
                        {30, 60, 0},
                        {50, 20, 100},
                        {361, 30, 3}}) {
    const auto found = file->cone(deg_to_rad(c.ra_deg), deg_to_rad(c.dec_deg), deg_to_rad(c.radius_deg), 9);
    EXPECT_EQ(static_cast<int>(found.size()),
              count_slow(stars, deg_to_rad(c.ra_deg), deg_to_rad(c.dec_deg), deg_to_rad(c.radius_deg), 9))
        << c.ra_deg << ' ' << c.dec_deg << ' ' << c.radius_deg;
    for (std::size_t i = 1; i < found.size(); ++i) EXPECT_LE(found[i - 1].v_mag, found[i].v_mag);
  }
}

// Positions keep 0.3 milliarcsec, magnitudes their thousandths, and a missing colour stays missing.
TEST_F(StarFiles, KeepsWhatItWasGiven) {
  const std::vector<CatalogStar> stars{{deg_to_rad(97.98), deg_to_rad(4.94), 6.123, 0.456},
                                       {deg_to_rad(-170), deg_to_rad(-80), -1.44, std::nullopt}};
  const auto file = StarFile::open(write(*encode_star_file(stars)));
  ASSERT_TRUE(file.ok());
  const auto all = file->cone(0, 0, kPi, 30);
  ASSERT_EQ(all.size(), 2u);
  const double step = 0.3e-3 / kArcsecPerRadian;
  EXPECT_NEAR(all[0].ra_rad, deg_to_rad(190), step);
  EXPECT_NEAR(all[0].dec_rad, deg_to_rad(-80), step);
  EXPECT_FALSE(all[0].b_minus_v);
  EXPECT_NEAR(all[1].v_mag, 6.123, 1e-9);
  EXPECT_NEAR(*all[1].b_minus_v, 0.456, 1e-9);
}

TEST_F(StarFiles, RefusesWhatIsNotACatalogue) {
  EXPECT_EQ(StarFile::open("/nowhere/stars").error().code(), Code::kNotFound);
  EXPECT_EQ(StarFile::open(write({})).error().code(), Code::kCorrupt);
  auto bytes = *encode_star_file(random_sky(50));
  const std::vector<std::byte> cut(bytes.begin(), bytes.begin() + 1000);
  EXPECT_THAT(StarFile::open(write(cut)).error().message(), HasSubstr("length is wrong"));
  auto index = bytes;
  index[16 + 4 * 100 + 2] = std::byte{0x7f};
  EXPECT_THAT(StarFile::open(write(index)).error().message(), HasSubstr("index is damaged"));
  bytes[0] = std::byte{0};
  EXPECT_THAT(StarFile::open(write(bytes)).error().message(), HasSubstr("does not begin"));
}

TEST_F(StarFiles, RefusesToEncodeNonsense) {
  const std::vector<CatalogStar> off_the_sky{{0, 2, 5, {}}};
  EXPECT_EQ(encode_star_file(off_the_sky).error().code(), Code::kInvalidInput);
  const std::vector<CatalogStar> unbelievable{{0, 1, 99, {}}};
  EXPECT_EQ(encode_star_file(unbelievable).error().code(), Code::kInvalidInput);
}

}  // namespace
}  // namespace ng::catalog
