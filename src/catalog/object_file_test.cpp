#include "catalog/object_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <fstream>

#include "base/angle.h"
#include "catalog/object_name.h"
#include "math/random.h"
#include "sky/coordinates.h"

namespace ng::catalog {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::UnorderedElementsAreArray;

class ObjectFiles : public testing::Test {
 protected:
  ~ObjectFiles() override { std::filesystem::remove(path_); }
  std::filesystem::path write(const std::vector<std::byte>& bytes) {
    std::ofstream(path_, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
    return path_;
  }

 private:
  std::filesystem::path path_ =
      std::filesystem::temp_directory_path() /
      ("ng-objects-" + std::to_string(getpid()) + "-" + testing::UnitTest::GetInstance()->current_test_info()->name());
};

SkyObject make(std::vector<std::string> names, double ra_deg, double dec_deg, ObjectKind kind, double size_arcmin,
               std::optional<double> magnitude) {
  SkyObject o;
  o.names = std::move(names);
  o.place = {deg_to_rad(ra_deg), deg_to_rad(dec_deg)};
  o.kind = kind;
  o.major_arcmin = size_arcmin;
  o.minor_arcmin = size_arcmin / 2;
  o.magnitude = magnitude;
  return o;
}

// Places and sizes of a few real objects, rounded.
std::vector<SkyObject> few() {
  return {make({"M 33", "NGC 598", "Triangulum", "Triangulum Galaxy"}, 23.46, 30.66, ObjectKind::kGalaxy, 68.7, 5.72),
          make({"IC 133"}, 23.316, 30.884, ObjectKind::kBrightNebula, 1, 12.2),
          make({"NGC 7000", "North America Nebula"}, 314.7, 44.33, ObjectKind::kBrightNebula, 120, 4.0),
          make({"M 3", "NGC 5272"}, 205.55, 28.38, ObjectKind::kGlobularCluster, 18, 6.2),
          make({"B 33", "Horsehead Nebula"}, 85.25, -2.46, ObjectKind::kDarkNebula, 4, std::nullopt)};
}

TEST(ObjectNames, SpellingsThatMeanTheSame) {
  for (const char* name : {"M 33", "m33", "Messier 33", "messier033", "M-33"}) EXPECT_EQ(name_key(name), "M33") << name;
  EXPECT_EQ(name_key("NGC0598"), "NGC598");
  EXPECT_EQ(name_key("Sh2-155"), name_key("Sharpless 2-155"));
  EXPECT_EQ(name_key("PGC 1000"), "PGC1000");
  EXPECT_EQ(name_key(" ?! "), "");
}

// Distances by hand: one letter changed, one left out, two neighbours swapped, and far apart.
TEST(ObjectNames, Distance) {
  EXPECT_EQ(key_distance("ORION", "ORIAN", 3), 1);
  EXPECT_EQ(key_distance("ORION", "ORIN", 3), 1);
  EXPECT_EQ(key_distance("ORION", "OIRON", 3), 1);
  EXPECT_EQ(key_distance("M33", "M33", 1), 0);
  EXPECT_EQ(key_distance("ORION", "PLEIADES", 2), 3);
}

TEST_F(ObjectFiles, FindsByName) {
  const auto file = ObjectFile::open(write(*encode_object_file(few())));
  ASSERT_TRUE(file.ok());
  for (const char* name : {"M 33", "m33", "NGC598", "ngc 0598", "Triangulum", "triangulum gal"}) {
    const auto found = file->find(name);
    ASSERT_TRUE(found) << name;
    EXPECT_EQ(file->object(*found).names[0], "M 33") << name;
  }
  EXPECT_EQ(file->object(*file->find("M3")).names[1], "NGC 5272");
  EXPECT_FALSE(file->find("M 34"));
  EXPECT_FALSE(file->find(""));
  EXPECT_THAT(file->suggest("Horshead Nebula", 3), ElementsAre("Horsehead Nebula"));
  EXPECT_THAT(file->suggest("M34", 5), testing::Contains("M 33"));
  EXPECT_THAT(file->suggest("America", 5), ElementsAre("North America Nebula"));
}

TEST_F(ObjectFiles, KeepsWhatItWasGivenAndFindsTheHost) {
  const auto file = ObjectFile::open(write(*encode_object_file(few())));
  const SkyObject nebula = file->object(*file->find("IC 133"));
  ASSERT_TRUE(nebula.host);
  EXPECT_EQ(file->object(*nebula.host).names[0], "M 33");
  EXPECT_NEAR(rad_to_deg(nebula.place.ra_rad), 23.316, 1e-6);
  EXPECT_NEAR(*nebula.magnitude, 12.2, 1e-9);
  const SkyObject horse = file->object(*file->find("B33"));
  EXPECT_FALSE(horse.magnitude || horse.host);
  EXPECT_FALSE(surface_brightness(horse));
  EXPECT_FALSE(file->object(*file->find("M33")).host);
  // M 33 spread over 68.7 x 34.35 arcmin: 5.72 + 2.5 log10(pi/4 x 68.7 x 34.35 x 3600).
  EXPECT_NEAR(*surface_brightness(file->object(*file->find("M33"))), 22.7807, 0.0005);
}

TEST_F(ObjectFiles, ConeAndBoxFindWhatLookingAtEveryObjectFinds) {
  math::Random random(5, 0);
  std::vector<SkyObject> objects;
  for (int i = 0; i < 5000; ++i)
    objects.push_back(make({"X " + std::to_string(i)}, 360 * random.uniform(),
                           rad_to_deg(std::asin(2 * random.uniform() - 1)), ObjectKind::kGalaxy, 1, 15));
  const auto file = ObjectFile::open(write(*encode_object_file(objects)));
  ASSERT_TRUE(file.ok());
  for (const auto& [ra, dec, radius] :
       {std::tuple{10.0, 20.0, 5.0}, {0.5, -60.0, 8.0}, {359.0, 88.0, 6.0}, {180.0, -90.0, 3.0}, {20.0, 5.0, 120.0}}) {
    std::vector<std::string> slow, fast;
    const sky::Direction centre{deg_to_rad(ra), deg_to_rad(dec)};
    for (const SkyObject& o : objects)
      if (sky::separation_rad(centre, o.place) <= deg_to_rad(radius)) slow.push_back(o.names[0]);
    for (const auto i : file->cone(centre, deg_to_rad(radius))) fast.push_back(file->object(i).names[0]);
    EXPECT_THAT(fast, UnorderedElementsAreArray(slow)) << ra << ' ' << dec;
  }
  int slow = 0;
  for (const SkyObject& o : objects) {
    const double ra = rad_to_deg(o.place.ra_rad), dec = rad_to_deg(o.place.dec_rad);
    slow += (ra >= 350 || ra <= 15) && dec >= -10 && dec <= 30;
  }
  EXPECT_EQ(static_cast<int>(file->box(deg_to_rad(350), deg_to_rad(375), deg_to_rad(-10), deg_to_rad(30)).size()),
            slow);
}

TEST_F(ObjectFiles, RefusesWhatIsNotOne) {
  EXPECT_EQ(ObjectFile::open("/nowhere/objects").error().code(), Code::kNotFound);
  EXPECT_EQ(ObjectFile::open(write({})).error().code(), Code::kCorrupt);
  const auto bytes = *encode_object_file(few());
  for (const std::size_t length : {bytes.size() - 1, std::size_t{100}})
    EXPECT_EQ(
        ObjectFile::open(write({bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(length)})).error().code(),
        Code::kCorrupt);
  auto broken = bytes;
  broken[24 + 4 * 361 + 20 + 2] = std::byte{0x7f};  // the place of the first object's names
  EXPECT_THAT(ObjectFile::open(write(broken)).error().message(), HasSubstr("damaged"));
}

TEST_F(ObjectFiles, RefusesToEncodeNonsense) {
  EXPECT_EQ(encode_object_file(std::vector{make({}, 0, 0, ObjectKind::kGalaxy, 1, 1)}).error().code(),
            Code::kInvalidInput);
  EXPECT_EQ(encode_object_file(std::vector{make({"A"}, 0, 100, ObjectKind::kGalaxy, 1, 1)}).error().code(),
            Code::kInvalidInput);
}

}  // namespace
}  // namespace ng::catalog
