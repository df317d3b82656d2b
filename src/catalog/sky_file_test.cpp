#include "catalog/sky_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <fstream>
#include <set>

#include "catalog/sky_cells.h"
#include "math/random.h"

namespace ng::catalog {
namespace {

using testing::HasSubstr;

math::Vec3 anywhere(math::Random& random) {
  return math::from_angles(2 * kPi * random.uniform(), std::asin(2 * random.uniform() - 1));
}

class SkyFiles : public testing::Test {
 protected:
  SkyFiles()
      : path_(std::filesystem::temp_directory_path() /
              ("ng-skyfile-" + std::to_string(getpid()) + "-" +
               testing::UnitTest::GetInstance()->current_test_info()->name())) {}
  ~SkyFiles() override { std::filesystem::remove(path_); }
  std::filesystem::path write(const std::vector<std::byte>& bytes) {
    std::ofstream(path_, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
    return path_;
  }

 private:
  std::filesystem::path path_;
};

std::vector<SkyEntry> random_sky(int count) {
  math::Random random(11, 0);
  std::vector<SkyEntry> entries;
  for (int i = 0; i < count; ++i) {
    const math::Angles at = math::to_angles(anywhere(random));
    SkyEntry e;
    e.ra_rad = at.longitude_rad;
    e.dec_rad = at.latitude_rad;
    e.magnitude = 3 + 9 * random.uniform();
    if (i % 5 != 0) e.colour = 2 * random.uniform() - 0.3;
    entries.push_back(e);
  }
  return entries;
}

// Every direction inside a disc lies in a cell of its cover; and the cover is not much larger than the disc.
TEST(SkyCells, CoverOfADiscHoldsAllOfIt) {
  math::Random random(3, 3);
  for (const double radius : {1e-3, 0.003, 0.02, 0.3, 1.5, 3.0}) {
    for (int trial = 0; trial < 20; ++trial) {
      const math::Vec3 centre = anywhere(random);
      const CellCover cover = cells_in_disc(centre, radius);
      double area = 0;
      for (const CellRange& r : cover.ranges) area += 4 * kPi * (r.last - r.first) / (12.0 * (1 << (2 * cover.order)));
      EXPECT_LT(area, 4 * kPi * 1.001);
      EXPECT_LT(area, 2.6 * 2 * kPi * (1 - std::cos(radius)) + 1e-8) << radius;
      for (int i = 0; i < 200; ++i) {
        const math::Vec3 side = math::unit(math::cross(centre, anywhere(random)));
        const double off = radius * std::sqrt(random.uniform());
        math::Vec3 d{};
        for (std::size_t k = 0; k < 3; ++k) d[k] = std::cos(off) * centre[k] + std::sin(off) * side[k];
        const std::uint32_t cell = sky_cell(cover.order, d);
        const bool held = std::any_of(cover.ranges.begin(), cover.ranges.end(),
                                      [&](const CellRange& r) { return cell >= r.first && cell < r.last; });
        ASSERT_TRUE(held) << radius;
      }
    }
  }
}

TEST_F(SkyFiles, BrightestOfAConeAreThoseThatLookingAtEveryStarFinds) {
  const auto entries = random_sky(20000);
  const auto file = SkyFile::open(write(*encode_sky_file(entries, {}, {})));
  ASSERT_TRUE(file.ok());
  EXPECT_EQ(file->facts().stars, 20000u);
  math::Random random(4, 4);
  for (const double radius : {0.01, 0.05, 0.3, 2.0}) {
    const math::Vec3 centre = anywhere(random);
    std::vector<double> magnitudes;
    for (const SkyEntry& e : entries)
      if (math::separation(math::from_angles(e.ra_rad, e.dec_rad), centre) <= radius) magnitudes.push_back(e.magnitude);
    std::sort(magnitudes.begin(), magnitudes.end());
    const auto found = file->brightest(centre, radius, 100000, 2000);
    ASSERT_EQ(found.size(), magnitudes.size()) << radius;
    for (std::size_t i = 0; i < found.size(); ++i) ASSERT_NEAR(found[i].magnitude, magnitudes[i], 6e-4);
    // When few are asked for, they are among the brightest: none of them beyond four times their number.
    const auto few = file->brightest(centre, radius, 30, 2000);
    ASSERT_EQ(few.size(), std::min<std::size_t>(30, magnitudes.size()));
    for (const SkyStar& s : few)
      EXPECT_LE(s.magnitude, magnitudes[std::min<std::size_t>(120, magnitudes.size() - 1)] + 6e-4);
  }
}

// Barnard's star (Gaia Collaboration 2022, DR3; J2016.0: 269.448503 +4.739420 deg, -801.551 +10362.394 mas a year): in
// ten years it moves by 103.9 arcsec.
TEST_F(SkyFiles, ProperMotionCarriesAStarToTheYear) {
  constexpr double kMas = 1e-3 / kArcsecPerRadian;
  SkyEntry e;
  e.ra_rad = deg_to_rad(269.448503);
  e.dec_rad = deg_to_rad(4.739420);
  e.pm_ra_rad_year = -801.551 * kMas;
  e.pm_dec_rad_year = 10362.394 * kMas;
  e.magnitude = 8.19;
  SkyEncodeOptions options;
  options.epoch_year = 2016;
  options.band = "G";
  const auto file = SkyFile::open(write(*encode_sky_file(std::vector{e}, options, {})));
  ASSERT_TRUE(file.ok());
  EXPECT_EQ(file->facts().band, "G");
  const SkyStar then = file->star(0, 2016), later = file->star(0, 2026);
  EXPECT_NEAR(math::separation(then.direction, later.direction) * kArcsecPerRadian, 103.933, 0.01);
  EXPECT_GT(later.direction[2], then.direction[2]);
}

// The fast search of patterns against looking at each of them.
TEST_F(SkyFiles, PatternsNearACodeAreThoseThatLookingAtEachFinds) {
  const auto file = SkyFile::open(write(*encode_sky_file(random_sky(3000), {}, {})));
  ASSERT_TRUE(file.ok());
  const auto patterns = file->patterns();
  ASSERT_GT(patterns.size(), 3000u);
  math::Random random(6, 6);
  for (int trial = 0; trial < 200; ++trial) {
    const StarCode code{random.uniform(), random.uniform() - 0.5, random.uniform(), random.uniform() - 0.5};
    const double radius = 0.05 * random.uniform();
    std::vector<std::uint32_t> found;
    find_near(patterns, code, radius, found);
    std::sort(found.begin(), found.end());
    std::vector<std::uint32_t> slow;
    for (std::uint32_t i = 0; i < patterns.size(); ++i) {
      double squared = 0;
      for (std::size_t k = 0; k < 4; ++k) squared += std::pow(patterns[i].code[k] / 65535.0 * 2.0 - 0.9 - code[k], 2);
      if (std::sqrt(squared) <= radius) slow.push_back(i);
    }
    EXPECT_EQ(found, slow);
  }
}

TEST_F(SkyFiles, SameStarsInAnotherOrderGiveTheSameBytes) {
  auto entries = random_sky(2000);
  const auto one = encode_sky_file(entries, {}, {});
  std::reverse(entries.begin(), entries.end());
  const auto two = encode_sky_file(entries, {}, {});
  EXPECT_EQ(*one, *two);
}

TEST_F(SkyFiles, RefusesWhatIsNotACatalogue) {
  EXPECT_EQ(SkyFile::open("/nowhere/sky").error().code(), Code::kNotFound);
  EXPECT_EQ(SkyFile::open(write({})).error().code(), Code::kCorrupt);
  auto bytes = *encode_sky_file(random_sky(500), {}, {});
  const std::vector<std::byte> cut(bytes.begin(), bytes.begin() + 1000);
  EXPECT_THAT(SkyFile::open(write(cut)).error().message(), HasSubstr("length is wrong"));
  auto index = bytes;
  index[56 + 16 * 3 + 6] = std::byte{0x7f};  // in the levels
  EXPECT_THAT(SkyFile::open(write(index)).error().message(), HasSubstr("index is damaged"));
  bytes[0] = std::byte{0};
  EXPECT_THAT(SkyFile::open(write(bytes)).error().message(), HasSubstr("does not begin"));
}

// Whatever is damaged behind the index, a search ends and touches nothing outside.
TEST_F(SkyFiles, DamagedPatternsLeadNowhere) {
  auto bytes = *encode_sky_file(random_sky(500), {}, {});
  for (std::size_t i = bytes.size() - 5000; i < bytes.size(); ++i) bytes[i] = std::byte{0xff};
  const auto file = SkyFile::open(write(bytes));
  ASSERT_TRUE(file.ok());
  const Pattern& last = file->patterns().back();
  EXPECT_EQ(last.star[0], 0xffffffffu);
  EXPECT_LT(file->star(last.star[0], 2000).index, 500u);
}

TEST_F(SkyFiles, RefusesToEncodeNonsense) {
  EXPECT_EQ(encode_sky_file({}, {}, {}).error().code(), Code::kTooFew);
  std::vector<SkyEntry> off(1);
  off[0].dec_rad = 2;
  EXPECT_EQ(encode_sky_file(off, {}, {}).error().code(), Code::kInvalidInput);
  off[0].dec_rad = 0;
  off[0].magnitude = 99;
  EXPECT_EQ(encode_sky_file(off, {}, {}).error().code(), Code::kInvalidInput);
}

}  // namespace
}  // namespace ng::catalog
