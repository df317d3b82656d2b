#include "io/fits_source.h"
#include "io/fits_writer.h"
#include "io/test_support.h"

namespace ng::io {
namespace {

using testing::Fails;
using testing::IsOk;
using testing::TempFolder;

TEST(FitsExtension, IsFoundByName) {
  const TempFolder folder;
  const auto path = folder / "master.fits";
  auto writer = FitsWriter::create(path, Overwrite::kRefuse);
  ASSERT_THAT(writer, IsOk());
  const char* names[] = {"", "VARIANCE", "COVERAGE"};
  for (int i = 0; i < 3; ++i) {
    FitsImageSpec spec;
    spec.name = names[i];
    spec.width = 5;
    spec.height = 4;
    ASSERT_THAT(writer->add_image(spec), IsOk());
    const Image<float> image(5, 4, 1, static_cast<float>(i) + 0.5f);
    ASSERT_THAT(writer->write_rows(i, 0, 0, image.plane()), IsOk());
  }
  ASSERT_THAT(writer->commit(), IsOk());
  auto coverage = open_fits_image(path, "coverage");
  ASSERT_THAT(coverage, IsOk());
  Image<float> rows(5, 4);
  ASSERT_THAT((*coverage)->read_rows(0, 0, rows.plane()), IsOk());
  EXPECT_EQ(rows.plane()(4, 3), 2.5f);
  EXPECT_THAT(open_fits_image(path, "REJECTED"), Fails(Code::kNotFound, "no image extension REJECTED"));
  EXPECT_THAT(open_fits_image(folder / "none.fits", "COVERAGE"), Fails(Code::kNotFound, "none.fits"));
}

}  // namespace
}  // namespace ng::io
