#include "io/number_table.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <fstream>

namespace ng::io {
namespace {

using testing::HasSubstr;

const std::filesystem::path kCatalogues = std::filesystem::path(NG_SOURCE_DIR) / "../shared/catalogues";

std::filesystem::path scratch(const std::string& name, const std::string& text) {
  const auto path = std::filesystem::temp_directory_path() / ("ng-table-" + std::to_string(getpid()) + "-" + name);
  std::ofstream(path, std::ios::binary) << text;
  return path;
}

TEST(NumberTable, TextWithQuotesAnglesAndHoles) {
  const auto path =
      scratch("a.csv", "# made by hand\r\nname,ra,dec,mag\r\n\"a, b\",12:30:00,-00:30:00,5.5\r\n,1.5,,+6e0\r\n");
  auto table = open_table(path);
  ASSERT_TRUE(table.ok()) << table.error().message();
  const auto& columns = (*table)->columns();
  ASSERT_EQ(columns.size(), 4u);
  EXPECT_TRUE(columns[1].sexagesimal);
  EXPECT_FALSE(columns[3].sexagesimal);
  std::vector<double> row;
  ASSERT_TRUE(*(*table)->next(row));
  EXPECT_TRUE(std::isnan(row[0]));
  EXPECT_DOUBLE_EQ(row[1], 12.5);
  EXPECT_DOUBLE_EQ(row[2], -0.5);
  ASSERT_TRUE(*(*table)->next(row));
  EXPECT_TRUE(std::isnan(row[2]));
  EXPECT_DOUBLE_EQ(row[3], 6);
  EXPECT_FALSE(*(*table)->next(row));
  std::filesystem::remove(path);
}

// A TABLE written by hand: TABLEDATA, and the same two rows as BINARY2 with a null and a text of any length.
TEST(NumberTable, VoTableInTextAndBinary) {
  const std::string head =
      "<?xml version=\"1.0\"?><VOTABLE version=\"1.3\" xmlns=\"http://www.ivoa.net/xml/VOTable/v1.3\"><RESOURCE>"
      "<COOSYS ID=\"c\" epoch=\"J2016.0\" system=\"ICRS\"/><TABLE><FIELD name=\"id\" datatype=\"char\" "
      "arraysize=\"*\"/>"
      "<FIELD name=\"ra\" datatype=\"double\" unit=\"deg\"/><FIELD name=\"mag\" datatype=\"float\"/>"
      "<FIELD name=\"n\" datatype=\"short\"/><DATA>";
  const std::string tail = "</DATA></TABLE></RESOURCE></VOTABLE>";
  // Rows: nulls 00, length 2 "ab", 10.5, 7.25, -3; nulls 20 (mag), length 0, 20.5, -, 4. By Python 3.11: struct,
  // base64.
  const std::string binary =
      "<BINARY2><STREAM "
      "encoding=\"base64\">AAAAAAJhYkAlAAAAAAAAQOgAAP/9IAAAAABANIAAAAAAAAAAAAAABA==</STREAM></BINARY2>";
  const std::string text =
      "<TABLEDATA><TR><TD>ab</TD><TD>10.5</TD><TD>7.25</TD><TD>-3</TD></TR>"
      "<TR><TD/><TD>20.5</TD><TD></TD><TD>4</TD></TR></TABLEDATA>";
  for (const std::string& data : {binary, text}) {
    const auto path = scratch("b.vot", head + data + tail);
    auto table = open_table(path);
    ASSERT_TRUE(table.ok()) << table.error().message();
    EXPECT_DOUBLE_EQ(*(*table)->epoch_year(), 2016);
    std::vector<double> row;
    ASSERT_TRUE(*(*table)->next(row));
    EXPECT_DOUBLE_EQ(row[1], 10.5);
    EXPECT_DOUBLE_EQ(row[2], 7.25);
    EXPECT_DOUBLE_EQ(row[3], -3);
    ASSERT_TRUE(*(*table)->next(row));
    EXPECT_DOUBLE_EQ(row[1], 20.5);
    EXPECT_TRUE(std::isnan(row[2]));
    EXPECT_DOUBLE_EQ(row[3], 4);
    EXPECT_FALSE(*(*table)->next(row));
    std::filesystem::remove(path);
  }
  const auto cut = scratch("c.vot", head + "<BINARY2><STREAM>AAAAAAJh</STREAM></BINARY2>" + tail);
  auto table = open_table(cut);
  ASSERT_TRUE(table.ok());
  std::vector<double> row;
  EXPECT_THAT((*table)->next(row).error().message(), HasSubstr("cut short"));
  std::filesystem::remove(cut);
}

// The published forms themselves, where they are. First rows as their publishers print them.
TEST(NumberTable, PublishedForms) {
  if (!std::filesystem::exists(kCatalogues)) GTEST_SKIP() << "the published extracts are not here";
  struct Row {
    const char* file;
    std::int64_t rows;
    const char* column;
    double first;
  };
  for (const Row& r : {Row{"formats/hip_main_9933.dat.gz", 9933, "RAdeg", 0.05331696},
                       Row{"formats/tyc_main_head.dat", 10, "DEdeg", 2.26739188},
                       Row{"gaia_boxes/M36.csv.gz", 1521, "ra", 83.92086759012886},
                       Row{"formats/alphaPer_gaia_archive.vot.gz", 694, "ref_epoch", 2015.5}}) {
    auto table = open_table(kCatalogues / r.file);
    ASSERT_TRUE(table.ok()) << table.error().message();
    const auto column = (*table)->find(r.column);
    ASSERT_TRUE(column) << r.file;
    std::vector<double> row;
    std::int64_t count = 0;
    for (;; ++count) {
      const auto more = (*table)->next(row);
      ASSERT_TRUE(more.ok()) << more.error().message();
      if (!*more) break;
      if (count == 0) {
        EXPECT_DOUBLE_EQ(row[*column], r.first) << r.file;
      }
    }
    EXPECT_EQ(count, r.rows) << r.file;
  }
}

TEST(NumberTable, RefusesWhatIsNoTable) {
  EXPECT_EQ(open_table("/nowhere/table.csv").error().code(), Code::kNotFound);
  const auto letter = scratch("d.txt", "Dear observer\nhere is no table\n");
  EXPECT_THAT(open_table(letter).error().message(), HasSubstr("names no columns"));
  const auto empty = scratch("e.csv", "");
  EXPECT_EQ(open_table(empty).error().code(), Code::kCorrupt);
  std::filesystem::remove(letter);
  std::filesystem::remove(empty);
}

}  // namespace
}  // namespace ng::io
