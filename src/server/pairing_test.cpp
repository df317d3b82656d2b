#include "server/pairing.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "server/local_network.h"

namespace ng::server {
namespace {

using testing::HasSubstr;

TEST(Pairing, TheCodeGivesEachDeviceATokenOfItsOwn) {
  auto pairing = Pairing::create();
  ASSERT_TRUE(pairing.ok());
  EXPECT_THAT(pairing->code(), testing::MatchesRegex("[2-9A-Z]{4}-[2-9A-Z]{4}"));
  const auto one = pairing->pair(pairing->code());
  std::string sloppy = " " + pairing->code();
  sloppy.erase(sloppy.find('-'), 1);
  for (char& c : sloppy) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  const auto other = pairing->pair(sloppy);
  ASSERT_TRUE(one.ok() && other.ok());
  EXPECT_EQ(one->size(), 52u);  // 260 bits
  EXPECT_NE(*one, *other);
  EXPECT_TRUE(pairing->knows(*one) && pairing->knows(*other));
  EXPECT_FALSE(pairing->knows(""));
  EXPECT_FALSE(pairing->knows(one->substr(1)));
}

TEST(Pairing, AWrongCodeIsRefusedAndGuessingIsSlow) {
  auto pairing = Pairing::create();
  ASSERT_TRUE(pairing.ok());
  EXPECT_THAT(pairing->pair("").error().message(), HasSubstr("not the code"));
  for (int i = 0; i < 5; ++i) EXPECT_FALSE(pairing->pair("0000-0000").ok());
  EXPECT_THAT(pairing->pair("0000-0000").error().message(), HasSubstr("too many wrong codes"));
  // Not even the right one passes now: whoever guesses learns nothing more.
  EXPECT_THAT(pairing->pair(pairing->code()).error().message(), HasSubstr("too many wrong codes"));
}

TEST(Pairing, OnlySoManyDevices) {
  auto pairing = Pairing::create();
  ASSERT_TRUE(pairing.ok());
  for (int i = 0; i < 32; ++i) ASSERT_TRUE(pairing->pair(pairing->code()).ok());
  EXPECT_THAT(pairing->pair(pairing->code()).error().message(), HasSubstr("32 devices"));
}

TEST(Pairing, FindsItsCookieAmongOthers) {
  EXPECT_EQ(cookie_of("a=1; nightglass=XY; b=2", "nightglass"), "XY");
  EXPECT_EQ(cookie_of("nightglass=XY", "nightglass"), "XY");
  EXPECT_EQ(cookie_of("xnightglass=1;nightglass2=3; nightglass", "nightglass"), "");
  EXPECT_EQ(cookie_of("", "nightglass"), "");
}

TEST(LocalNetwork, KnowsNeighboursFromStrangers) {
  const std::vector<LocalNetwork> home{{*parse_ipv4("192.168.7.20"), *parse_ipv4("255.255.255.0")}};
  EXPECT_TRUE(is_neighbour("192.168.7.99", home));
  EXPECT_TRUE(is_neighbour("::ffff:192.168.7.99", home));
  EXPECT_FALSE(is_neighbour("192.168.8.99", home));
  EXPECT_FALSE(is_neighbour("8.8.8.8", home));
  EXPECT_FALSE(is_neighbour("fe80::1", home));
  EXPECT_FALSE(is_neighbour("192.168.7.99", {{*parse_ipv4("192.168.7.20"), 0}}));  // a route to everywhere is no home
  EXPECT_TRUE(is_loopback("127.0.0.1") && is_loopback("::1") && is_loopback("::ffff:127.0.0.1"));
  EXPECT_FALSE(is_loopback("192.168.7.20"));
  EXPECT_EQ(format_ipv4(*parse_ipv4("10.0.0.7")), "10.0.0.7");
}

}  // namespace
}  // namespace ng::server
