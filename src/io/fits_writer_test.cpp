#include "io/fits_writer.h"

#include <cmath>

#include "io/fits_card.h"
#include "io/fits_slow.h"
#include "io/test_files.h"

namespace ng::io {
namespace {

using testing::Fails;
using testing::get;
using testing::IsOk;
using testing::pixels_of;
using testing::put;
using testing::TempFolder;
using testing::verdict;

FitsImageSpec spec(int width, int height, FitsPixel pixel = FitsPixel::kFloat32, int planes = 1) {
  FitsImageSpec s;
  s.width = width;
  s.height = height;
  s.planes = planes;
  s.pixel = pixel;
  return s;
}

FitsCards cards_of(const std::filesystem::path& path) {
  return FitsCards::scan(get(path));
}

template <typename T>
void write_one(const std::filesystem::path& path, const FitsImageSpec& s, const Image<T>& image) {
  auto writer = FitsWriter::create(path, Overwrite::kRefuse);
  ASSERT_THAT(writer, IsOk());
  ASSERT_THAT(writer->add_image(s), IsOk());
  ASSERT_THAT(writer->write_rows(0, 0, 0, View<const T>(image.plane())), IsOk());
  ASSERT_THAT(writer->commit(), IsOk());
}

// DATASUM values made with astropy and an independent ones'-complement sum (FITS 4.0, section 4.4.2.7).
TEST(FitsWriter, PublishedDatasums) {
  const TempFolder folder;
  Image<std::uint16_t> ramp(16, 16);
  for (int y = 0; y < 16; ++y)
    for (int x = 0; x < 16; ++x) ramp.plane()(x, y) = static_cast<std::uint16_t>((y * 16 + x) * 257);
  write_one(folder / "ramp.fits", spec(16, 16, FitsPixel::kUint16), ramp);
  EXPECT_EQ(cards_of(folder / "ramp.fits").text("DATASUM"), "3217047615");

  write_one(folder / "zeros.fits", spec(10, 10, FitsPixel::kUint16), Image<std::uint16_t>(10, 10, 1, 0));
  EXPECT_EQ(cards_of(folder / "zeros.fits").text("DATASUM"), "1638425");

  Image<float> thirds(4, 3);
  for (int i = 0; i < 12; ++i) thirds.plane()(i % 4, i / 4) = static_cast<float>(i) / 3.0F;
  write_one(folder / "thirds.fits", spec(4, 3), thirds);
  EXPECT_EQ(cards_of(folder / "thirds.fits").text("DATASUM"), "3189069144");
  for (const char* name : {"ramp.fits", "zeros.fits", "thirds.fits"})
    EXPECT_EQ(verdict(folder / name, 0), std::pair(1, 1)) << name;
}

// FITS 4.0, table 11.
TEST(FitsWriter, Unsigned16BitBytes) {
  const TempFolder folder;
  Image<std::uint16_t> three(3, 1);
  three.plane()(0, 0) = 0;
  three.plane()(1, 0) = 32768;
  three.plane()(2, 0) = 65535;
  write_one(folder / "a.fits", spec(3, 1, FitsPixel::kUint16), three);
  const std::string bytes = get(folder / "a.fits");
  EXPECT_EQ(bytes.size() % 2880, 0u);
  EXPECT_EQ(bytes.substr(2880, 6), std::string("\x80\x00\x00\x00\x7F\xFF", 6));
  EXPECT_EQ(bytes.find_first_not_of('\0', 2886), std::string::npos);
  EXPECT_EQ(cards_of(folder / "a.fits").integer("BZERO"), 32768);
  EXPECT_EQ(cards_of(folder / "a.fits").integer("BITPIX"), 16);
}

TEST(FitsWriter, MandatoryCardsComeFirstInOrder) {
  const TempFolder folder;
  write_one(folder / "a.fits", spec(2, 2), Image<float>(2, 2, 1, 1.0F));
  const std::vector<ScannedCard> all = cards_of(folder / "a.fits").all();
  ASSERT_GE(all.size(), 5u);
  const std::vector<std::string> first{all[0].name, all[1].name, all[2].name, all[3].name, all[4].name};
  EXPECT_THAT(first, ::testing::ElementsAre("SIMPLE", "BITPIX", "NAXIS", "NAXIS1", "NAXIS2"));
  EXPECT_TRUE(get(folder / "a.fits").starts_with("SIMPLE  =                    T "));
}

TEST(FitsWriter, ThreeHdusInAlternatingBandsAndRewrittenRows) {
  const TempFolder folder;
  const int width = 33, height = 50;  // odd width: 16-bit rows begin inside 32-bit words
  auto writer = FitsWriter::create(folder / "a.fits", Overwrite::kRefuse);
  ASSERT_THAT(writer, IsOk());
  FitsImageSpec colour = spec(width, height, FitsPixel::kFloat32, 3);
  FitsImageSpec counts = spec(width, height, FitsPixel::kUint16, 3);
  counts.name = "COUNTS";
  FitsImageSpec variance = spec(width, height);
  variance.name = "VARIANCE";
  for (const FitsImageSpec& s : {colour, counts, variance}) ASSERT_THAT(writer->add_image(s), IsOk());
  Image<float> image(width, height, 3);
  for (int p = 0; p < 3; ++p)
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) image.plane(p)(x, y) = static_cast<float>(p * 10000 + y * 100 + x);
  for (int y = 42; y >= 0; y -= 7) {
    const int rows = std::min(7, height - y) + (y == 42 ? 1 : 0);
    for (int p = 0; p < 3; ++p) {
      const View<const float> band = View<const float>(image.plane(p)).rows(y, rows);
      ASSERT_THAT(writer->write_rows(0, p, y, band), IsOk());
      ASSERT_THAT(writer->write_rows(1, p, y, band), IsOk());
    }
    ASSERT_THAT(writer->write_rows(2, 0, y, View<const float>(image.plane(1)).rows(y, rows)), IsOk());
  }
  // A row written again counts once, in its last form.
  const Image<float> again(width, 1, 1, -5.0F);
  ASSERT_THAT(writer->write_rows(2, 0, 9, View<const float>(again.plane())), IsOk());
  ASSERT_THAT(writer->commit(), IsOk());

  for (int hdu = 0; hdu < 3; ++hdu) EXPECT_EQ(verdict(folder / "a.fits", hdu), std::pair(1, 1)) << hdu;
  for (int p = 0; p < 3; ++p) {
    const std::vector<float> floats = testing::slow_plane(folder / "a.fits", 0, width, height, p);
    const std::vector<float> ints = testing::slow_plane(folder / "a.fits", 1, width, height, p);
    for (int i = 0; i < width * height; ++i) {
      ASSERT_EQ(floats[static_cast<std::size_t>(i)], image.plane(p)(i % width, i / width));
      ASSERT_EQ(ints[static_cast<std::size_t>(i)], image.plane(p)(i % width, i / width));
    }
  }
  EXPECT_EQ(testing::slow_plane(folder / "a.fits", 2, width, height, 0)[9 * width], -5.0F);
  EXPECT_EQ(pixels_of(folder / "a.fits", 2).plane()(32, 49), 2.0F * 10000 + 4900 + 32);
}

TEST(FitsWriter, RoundingIntoUint16) {
  const TempFolder folder;
  Image<float> image(8, 1);
  const float in[8] = {-3, 0.5F, 1.5F, 2.4999F, 65534.6F, 70000, NAN, INFINITY};
  const float out[8] = {0, 0, 2, 2, 65535, 65535, 0, 65535};
  std::copy(std::begin(in), std::end(in), image.plane().row(0));
  write_one(folder / "a.fits", spec(8, 1, FitsPixel::kUint16), image);
  const Image<float> back = pixels_of(folder / "a.fits");
  for (int x = 0; x < 8; ++x) EXPECT_EQ(back.plane()(x, 0), out[x]) << in[x];
}

TEST(FitsWriter, CardsComeBackAsTheyWent) {
  const TempFolder folder;
  FitsImageSpec s = spec(1, 1);
  const std::string long_text = "It's a long story, with 'quotes' all over: " + std::string(120, 'x') + " end";
  s.cards = {{"FLAG", true, "a flag"},
             {"COUNT", std::int64_t{-42}, "an integer"},
             {"BIG", std::int64_t{9'007'199'254'740'993}, ""},
             {"EXPTIME", 30.0, "[s]"},
             {"TINY", 1.2345678901234567e-300, "needs 17 digits"},
             {"THIRD", 1.0 / 3.0, ""},
             {"NOTHING", std::nan(""), "not finite: left out"},
             {"ENDLESS", INFINITY, ""},
             {"OBJECT", std::string("Barnard's loop"), "with a quote"},
             {"STORY", long_text, "and a comment"},
             {"UMLAUT", std::string("M\xC3\xBCnchen\n"), ""},
             {"EMPTY", std::string(), ""},
             {"HISTORY", std::string(200, 'h'), ""},
             {"COMMENT", std::string(), ""}};
  write_one(folder / "a.fits", s, Image<float>(1, 1, 1, 0.0F));
  const FitsCards cards = cards_of(folder / "a.fits");
  EXPECT_TRUE(cards.is_true("FLAG"));
  EXPECT_EQ(cards.integer("COUNT"), -42);
  EXPECT_EQ(cards.find("BIG")->text, "9007199254740993");
  EXPECT_EQ(cards.find("EXPTIME")->text, "30.0");
  EXPECT_EQ(cards.find("EXPTIME")->comment, "[s]");
  EXPECT_EQ(cards.number("TINY"), 1.2345678901234567e-300);
  EXPECT_EQ(cards.number("THIRD"), 1.0 / 3.0);
  EXPECT_EQ(cards.find("NOTHING"), nullptr);
  EXPECT_EQ(cards.find("ENDLESS"), nullptr);
  EXPECT_EQ(cards.text("OBJECT"), "Barnard's loop");
  EXPECT_EQ(cards.text("STORY"), long_text);
  EXPECT_EQ(cards.text("UMLAUT"), "M?nchen?");
  EXPECT_EQ(cards.find("EMPTY")->text, "");
  int history = 0;
  for (const ScannedCard& card : cards.all()) {
    EXPECT_EQ(card.fault, "") << card.name;
    if (card.name == "HISTORY") history += static_cast<int>(card.text.size());
  }
  EXPECT_EQ(history, 200);
  EXPECT_EQ(verdict(folder / "a.fits", 0), std::pair(1, 1));
}

TEST(FitsWriter, RefusesCardsThatAreNotAllowed) {
  const TempFolder folder;
  const auto with = [&](const FitsCard& card, const FitsCard& second = {"OK", true, ""}) {
    auto writer = FitsWriter::create(folder / "a.fits", Overwrite::kRefuse);
    EXPECT_THAT(writer, IsOk());
    FitsImageSpec s = spec(1, 1);
    s.cards = {card, second};
    return writer->add_image(s);
  };
  EXPECT_THAT(with({"TOOLONGNAME", true, ""}), Fails(Code::kInvalidInput, "no FITS keyword"));
  EXPECT_THAT(with({"lower", true, ""}), Fails(Code::kInvalidInput, "no FITS keyword"));
  EXPECT_THAT(with({"", true, ""}), Fails(Code::kInvalidInput, "no FITS keyword"));
  EXPECT_THAT(with({"NAXIS2", std::int64_t{5}, ""}), Fails(Code::kInvalidInput, "belongs to the writer"));
  EXPECT_THAT(with({"CHECKSUM", std::string("x"), ""}), Fails(Code::kInvalidInput, "belongs to the writer"));
  EXPECT_THAT(with({"GAIN", 1.0, ""}, {"GAIN", 2.0, ""}), Fails(Code::kInvalidInput, "given twice"));
  EXPECT_THAT(with({"HISTORY", 1.0, ""}), Fails(Code::kInvalidInput, "takes a text"));
  EXPECT_EQ(folder.files(), 0);
}

TEST(FitsWriter, UnfinishedWorkLeavesNothing) {
  const TempFolder folder;
  {
    auto writer = FitsWriter::create(folder / "a.fits", Overwrite::kRefuse);
    ASSERT_THAT(writer, IsOk());
    EXPECT_THAT(writer->add_image(spec(0, 5)), Fails(Code::kInvalidInput, "cannot be written"));
    EXPECT_THAT(writer->commit(), Fails(Code::kInvalidInput, "without an image"));
    ASSERT_THAT(writer->add_image(spec(2, 3)), IsOk());
    const Image<float> row(2, 1, 1, 1.0F);
    ASSERT_THAT(writer->write_rows(0, 0, 1, View<const float>(row.plane())), IsOk());
    EXPECT_THAT(writer->commit(), Fails(Code::kInvalidInput, "2 rows of '' were never written"));
  }
  EXPECT_EQ(folder.files(), 0);
  put(folder / "b.fits", "mine");
  EXPECT_THAT(FitsWriter::create(folder / "b.fits", Overwrite::kRefuse), Fails(Code::kExists, "exists already"));
  EXPECT_EQ(get(folder / "b.fits"), "mine");
}

TEST(FitsWriter, SameInputSameBytes) {
  const TempFolder folder;
  for (const char* name : {"a.fits", "b.fits"}) write_one(folder / name, spec(5, 4), Image<float>(5, 4, 1, 2.5F));
  EXPECT_EQ(get(folder / "a.fits"), get(folder / "b.fits"));
}

}  // namespace
}  // namespace ng::io
