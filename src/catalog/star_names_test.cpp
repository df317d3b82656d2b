#include "catalog/star_names.h"

#include <gtest/gtest.h>

#include <fstream>

#include "base/angle.h"

namespace ng::catalog {
namespace {

std::filesystem::path written(const std::string& text) {
  const auto path = std::filesystem::path(testing::TempDir()) / "star_names.tsv";
  std::ofstream(path) << text;
  return path;
}

TEST(StarNames, AreReadWithTheirPlaces) {
  const auto stars = read_star_names(written("88.79294\t7.40706\t0.45\talpha Ori\n89.60168\t1.85514\t4.78\t60 Ori\n"));
  ASSERT_TRUE(stars.ok());
  ASSERT_EQ(stars->size(), 2u);
  EXPECT_EQ((*stars)[0].name, "alpha Ori");
  EXPECT_DOUBLE_EQ((*stars)[0].place.ra_rad, deg_to_rad(88.79294));
  EXPECT_DOUBLE_EQ((*stars)[1].v_mag, 4.78);
}

TEST(StarNames, ALineThatIsNoStarIsNamed) {
  for (const char* line : {"88.8\t7.4\t0.45\n", "88.8\t97.4\t0.45\talpha Ori\n", "alpha Ori\n"}) {
    const auto stars = read_star_names(written(std::string("1\t2\t3\tx Y\n") + line));
    ASSERT_FALSE(stars.ok()) << line;
    EXPECT_EQ(stars.error().code(), Code::kCorrupt);
    EXPECT_NE(stars.error().message().find("line 2"), std::string::npos);
  }
  EXPECT_EQ(read_star_names("no/such/file").error().code(), Code::kNotFound);
}

}  // namespace
}  // namespace ng::catalog
