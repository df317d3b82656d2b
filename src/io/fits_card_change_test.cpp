#include "io/fits_card_change.h"

#include "io/fits_card.h"
#include "io/test_files.h"

namespace ng::io {
namespace {

using testing::Fails;
using testing::get;
using testing::IsOk;
using testing::put;
using testing::TempFolder;
using testing::verdict;

// A primary image with checksums and a long text, and an extension behind it.
void write_master(const std::filesystem::path& path) {
  Image<float> image(40, 30);
  for (int y = 0; y < 30; ++y)
    for (int x = 0; x < 40; ++x) image.plane()(x, y) = static_cast<float>(x * y);
  FitsImageSpec spec;
  spec.width = 40;
  spec.height = 30;
  spec.cards = {{"CRVAL1", 10.0, ""}, {"OBJECT", std::string(120, 'x'), ""}, {"CRVAL2", -5.0, ""}};
  FitsImageSpec extension = spec;
  extension.name = "VARIANCE";
  extension.cards = {{"CRVAL1", 77.0, ""}};
  auto writer = FitsWriter::create(path, Overwrite::kRefuse);
  ASSERT_THAT(writer, IsOk());
  for (const FitsImageSpec& s : {spec, extension}) {
    const auto hdu = writer->add_image(s);
    ASSERT_THAT(hdu, IsOk());
    ASSERT_THAT(writer->write_rows(*hdu, 0, 0, View<const float>(image.plane())), IsOk());
  }
  ASSERT_THAT(writer->commit(), IsOk());
}

bool is_crval(std::string_view name) {
  return name.starts_with("CRVAL");
}

// More cards than the header has room for: it grows by blocks, and the data move on unchanged.
std::vector<FitsCard> many_cards() {
  std::vector<FitsCard> cards{{"CRVAL1", 83.25, "new"}};
  for (int k = 0; k < 60; ++k) cards.push_back({"A_" + std::to_string(k), 0.5 * k, ""});
  return cards;
}

TEST(FitsCardChange, OnlyTheHeaderOfTheImageChanges) {
  const TempFolder folder;
  write_master(folder / "a.fits");
  const std::string before = get(folder / "a.fits");
  ASSERT_THAT(change_fits_cards(folder / "a.fits", folder / "b.fits", is_crval, many_cards(), Overwrite::kRefuse),
              IsOk());
  EXPECT_EQ(get(folder / "a.fits"), before);
  const std::string after = get(folder / "b.fits");
  const FitsCards cards = FitsCards::scan(after);
  EXPECT_EQ(cards.number("CRVAL1"), 83.25);
  EXPECT_EQ(cards.find("CRVAL2"), nullptr);
  EXPECT_EQ(cards.number("A_59"), 29.5);
  EXPECT_EQ(cards.text("OBJECT"), std::string(120, 'x'));
  // Everything behind the first header: 40 x 30 x 4 bytes in whole blocks, the extension with its own CRVAL1.
  const auto data_of = [](const std::string& file) {
    const std::size_t end = file.find("END     ");
    return file.substr((end / 2880 + 1) * 2880);
  };
  EXPECT_GT(after.size(), before.size());
  EXPECT_EQ(data_of(after), data_of(before));
  EXPECT_EQ(verdict(folder / "b.fits", 0), (std::pair{1, 1}));
  EXPECT_EQ(verdict(folder / "b.fits", 1), (std::pair{1, 1}));
}

TEST(FitsCardChange, InPlaceTwiceIsTheSameAsOnce) {
  const TempFolder folder;
  write_master(folder / "a.fits");
  const auto change = [&] {
    return change_fits_cards(
        folder / "a.fits", folder / "a.fits",
        [](std::string_view name) { return is_crval(name) || name.starts_with("A_"); }, many_cards(),
        Overwrite::kReplace);
  };
  ASSERT_THAT(change(), IsOk());
  const std::string once = get(folder / "a.fits");
  ASSERT_THAT(change(), IsOk());
  EXPECT_EQ(get(folder / "a.fits"), once);
  EXPECT_EQ(verdict(folder / "a.fits", 0), (std::pair{1, 1}));
}

// A text over several cards goes whole, not its first card alone.
TEST(FitsCardChange, ContinuedTextsGoWithTheirCard) {
  const TempFolder folder;
  write_master(folder / "a.fits");
  ASSERT_THAT(change_fits_cards(
                  folder / "a.fits", folder / "b.fits", [](std::string_view name) { return name == "OBJECT"; }, {},
                  Overwrite::kRefuse),
              IsOk());
  const std::string header = get(folder / "b.fits").substr(0, 2880);
  EXPECT_EQ(header.find("xxx"), std::string::npos);
  EXPECT_EQ(header.find("CONTINUE"), std::string::npos);
}

TEST(FitsCardChange, RefusesWhatItWouldDamage) {
  const TempFolder folder;
  write_master(folder / "a.fits");
  const std::string bytes = get(folder / "a.fits");
  const auto change = [&](const char* from, const char* to, Overwrite overwrite) {
    return change_fits_cards(folder / from, folder / to, is_crval, many_cards(), overwrite);
  };
  put(folder / "there.fits", "mine");
  EXPECT_THAT(change("a.fits", "there.fits", Overwrite::kRefuse), Fails(Code::kExists, "there.fits"));
  EXPECT_EQ(get(folder / "there.fits"), "mine");

  EXPECT_THAT(change("gone.fits", "b.fits", Overwrite::kRefuse), Fails(Code::kNotFound, "gone.fits"));
  put(folder / "no.png", "\x89PNG, and no FITS");
  EXPECT_THAT(change("no.png", "no.png", Overwrite::kReplace), Fails(Code::kUnsupported, "FITS"));
  EXPECT_EQ(get(folder / "no.png"), "\x89PNG, and no FITS");

  const std::string packed = testing::gzipped(bytes);
  put(folder / "a.fits.gz", packed);
  EXPECT_THAT(change("a.fits.gz", "a.fits.gz", Overwrite::kReplace), Fails(Code::kUnsupported, "gzip"));
  EXPECT_EQ(get(folder / "a.fits.gz"), packed);
  EXPECT_THAT(change("a.fits.gz", "plain.fits", Overwrite::kRefuse), IsOk());
  EXPECT_EQ(verdict(folder / "plain.fits", 0), (std::pair{1, 1}));

  put(folder / "cut.fits", bytes.substr(0, 1500));
  EXPECT_FALSE(change("cut.fits", "cut.fits", Overwrite::kReplace).ok());
  EXPECT_EQ(get(folder / "cut.fits"), bytes.substr(0, 1500));
}

}  // namespace
}  // namespace ng::io
