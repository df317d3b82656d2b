#include "io/fits_card.h"

#include "io/test_support.h"

namespace ng::io {
namespace {

using testing::header;

ScannedCard only(const std::string& card) {
  const FitsCards cards = FitsCards::scan(header({card}));
  EXPECT_EQ(cards.all().size(), 1u) << card;
  return cards.all().empty() ? ScannedCard{} : cards.all()[0];
}

TEST(FitsCards, LegalCards) {
  const ScannedCard fixed = only("EXPTIME =                 30.0 / [s] exposure");
  EXPECT_EQ(fixed.name, "EXPTIME");
  EXPECT_EQ(fixed.text, "30.0");
  EXPECT_EQ(fixed.comment, "[s] exposure");
  EXPECT_FALSE(fixed.quoted);
  EXPECT_EQ(fixed.fault, "");
  const ScannedCard text = only("OBJECT  = 'Barnard''s / star  ' / a quote and a slash inside");
  EXPECT_EQ(text.text, "Barnard's / star");
  EXPECT_EQ(text.comment, "a quote and a slash inside");
  EXPECT_TRUE(text.quoted);
  EXPECT_EQ(text.fault, "");
  EXPECT_EQ(only("WBRGGB  = '' / empty").text, "");
  EXPECT_EQ(only("HISTORY = not a value").text, "= not a value");
  EXPECT_EQ(only("HIERARCH Site Wind = 3.5 / m/s").name, "SITE WIND");
}

TEST(FitsCards, FreeFormat) {
  const FitsCards cards = FitsCards::scan(header({"EQUINOX = 2000.0 / free", "BZERO   = +3.276800000000E+004/ tight",
                                                  "CCD-TEMP=                  26. / point", "TELALT  = +62.592",
                                                  "OLD     = 1.5D+02", "SIMPLE  =                    T/tight"}));
  EXPECT_EQ(cards.number("EQUINOX"), 2000.0);
  EXPECT_EQ(cards.number("BZERO"), 32768.0);
  EXPECT_EQ(cards.integer("BZERO"), 32768);
  EXPECT_EQ(cards.number("CCD-TEMP"), 26.0);
  EXPECT_EQ(cards.number("TELALT"), 62.592);
  EXPECT_EQ(cards.number("OLD"), 150.0);
  EXPECT_TRUE(cards.is_true("SIMPLE"));
  EXPECT_FALSE(cards.is_true("EQUINOX"));
  EXPECT_FALSE(cards.number("NONE").has_value());
}

TEST(FitsCards, IllegalCardsAreReadAndNamed) {
  const ScannedCard comma = only("EXPTIME =              6,4E-05 / Total Exposure Time (s)");
  EXPECT_EQ(leading_number(comma.text)->value, 6.4e-05);
  EXPECT_EQ(comma.fault, "the number has a decimal comma");
  const ScannedCard quote = only("OBSERVER= 'O'Hara' / name");
  EXPECT_EQ(quote.text, "O'Hara");
  EXPECT_EQ(quote.comment, "name");
  EXPECT_NE(quote.fault, "");
  const ScannedCard open = only("FILTER  = 'Ha 7 nm");
  EXPECT_EQ(open.text, "Ha 7 nm");
  EXPECT_NE(open.fault, "");
  const ScannedCard shifted = only("GAIN = 100");
  EXPECT_EQ(shifted.name, "GAIN");
  EXPECT_EQ(shifted.text, "100");
  EXPECT_NE(shifted.fault, "");
  const ScannedCard lower_case = only("filter  = 'R'");
  EXPECT_EQ(lower_case.name, "FILTER");
}

TEST(FitsCards, BlankKeywordIsCommentaryAndFirstOfTwoCounts) {
  const FitsCards cards = FitsCards::scan(header(
      {"        *BSCALE  = +2.000000000000e+000", "BSCALE  = 1.0", "BSCALE  = 3.0", "        ", "not a card at all"}));
  EXPECT_EQ(cards.number("BSCALE"), 1.0);
  EXPECT_EQ(cards.all().size(), 2u);
}

TEST(FitsCards, ContinuedStrings) {
  const FitsCards cards = FitsCards::scan(header({"NOTE    = 'one &'", "CONTINUE  'two&  '", "CONTINUE  ' three' / why",
                                                  "OTHER   = 'ends with &'", "GAIN    = 1"}));
  EXPECT_EQ(cards.text("NOTE"), "one two three");
  EXPECT_EQ(cards.find("NOTE")->comment, "why");
  EXPECT_EQ(cards.text("OTHER"), "ends with &");
}

TEST(FitsCards, EndsAtEnd) {
  std::string bytes = header({"A       = 1"});
  bytes += header({"B       = 2"});
  EXPECT_EQ(FitsCards::scan(bytes).find("B"), nullptr);
  EXPECT_TRUE(is_end_card("END     "));
  EXPECT_FALSE(is_end_card("ENDING  = 3"));
}

TEST(FitsCards, TextIsUtf8WhateverTheFileHolds) {
  EXPECT_EQ(only("SITE    = 'M\xFCnchen'").text, "M\xC3\xBCnchen");              // Latin-1
  EXPECT_EQ(only("SITE    = 'M\xC3\xBCnchen'").text, "M\xC3\xBCnchen");          // UTF-8 already
  EXPECT_EQ(only(std::string("SITE    = 'a") + '\x01' + "b'").text, "a?b");      // control
  EXPECT_EQ(only("SITE    = '\xED\xA0\x80'").text, "\xC3\xAD\xC2\xA0\xC2\x80");  // a surrogate is no UTF-8
  EXPECT_EQ(only("SITE    = '\xC0\xAF'").text, "\xC3\x80\xC2\xAF");              // nor an overlong form
}

TEST(LeadingNumber, Forms) {
  EXPECT_EQ(leading_number(" -12 ")->value, -12);
  EXPECT_EQ(leading_number("+3.2E+004")->value, 32000);
  EXPECT_EQ(leading_number("1e5")->value, 1e5);
  EXPECT_EQ(leading_number("26.")->value, 26);
  EXPECT_EQ(leading_number(".5")->value, 0.5);
  EXPECT_EQ(leading_number("11 C")->value, 11);
  EXPECT_EQ(leading_number("11 C")->rest, "C");
  EXPECT_EQ(leading_number("12e")->value, 12);  // no exponent follows: a unit
  EXPECT_EQ(leading_number("12e")->rest, "e");
  EXPECT_TRUE(leading_number("1,5")->decimal_comma);
  EXPECT_EQ(leading_number("1,5")->value, 1.5);
  EXPECT_FALSE(leading_number("").has_value());
  EXPECT_FALSE(leading_number("T").has_value());
  EXPECT_FALSE(leading_number("nan").has_value());
  EXPECT_FALSE(leading_number("inf").has_value());
  EXPECT_FALSE(leading_number("1e999").has_value());
  EXPECT_FALSE(leading_number("++5").has_value());
  EXPECT_FALSE(leading_number("1.2.3").has_value());
  EXPECT_FALSE(leading_number(std::string(100, '1') + "x").has_value() &&
               leading_number(std::string(100, '1') + "x")->rest == "x");  // longer than any number: never half-read
}

}  // namespace
}  // namespace ng::io
