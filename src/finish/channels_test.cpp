#include "finish/channels.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace ng::finish {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;
using Names = std::vector<std::string>;

ChannelPlan plan(const Names& filters, const ChannelNames& names = {}) {
  auto result = plan_channels(filters, names);
  EXPECT_TRUE(result.ok()) << (result.ok() ? "" : result.error().message());
  return result.ok() ? *result : ChannelPlan{};
}
std::string refusal(const Names& filters, const ChannelNames& names = {}) {
  const auto result = plan_channels(filters, names);
  EXPECT_FALSE(result.ok());
  return result.ok() ? "" : result.error().message();
}

TEST(Channels, TheUsualSets) {
  const auto lrgb = plan({"B", "L", "Red", "green"});
  EXPECT_EQ(lrgb.luminance, 1);
  EXPECT_THAT(lrgb.sources, ElementsAre(ElementsAre(2), ElementsAre(3), ElementsAre(0)));
  EXPECT_THAT(lrgb.notes, IsEmpty());
  const auto rgb = plan({"R", "G", "B"});
  EXPECT_EQ(rgb.luminance, -1);
  EXPECT_TRUE(rgb.colour());
  const auto grey = plan({"L"});
  EXPECT_FALSE(grey.colour());
  EXPECT_EQ(grey.grey, 0);
  EXPECT_EQ(plan({"anything"}).grey, 0);
}

TEST(Channels, IncompleteAndNarrowSets) {
  const auto no_green = plan({"R", "B", "L"});
  EXPECT_THAT(no_green.sources, ElementsAre(ElementsAre(0), ElementsAre(0, 1), ElementsAre(1)));
  EXPECT_THAT(no_green.notes, ElementsAre(HasSubstr("no green master")));
  const auto two = plan({"O III", "H-alpha"});
  EXPECT_THAT(two.sources, ElementsAre(ElementsAre(1), ElementsAre(0), ElementsAre(0)));
  const auto three = plan({"OIII", "Ha", "S II"});
  EXPECT_THAT(three.sources, ElementsAre(ElementsAre(2), ElementsAre(1), ElementsAre(0)));
  const auto broad = plan({"gp", "rp", "ip"});
  EXPECT_THAT(broad.sources, ElementsAre(ElementsAre(2), ElementsAre(1), ElementsAre(0)));
  const auto one_colour = plan({"L", "Ha"});
  EXPECT_EQ(one_colour.grey, 0);
  EXPECT_FALSE(one_colour.colour());
  EXPECT_THAT(one_colour.notes, ElementsAre(HasSubstr("Ha was not used")));
  const auto extra = plan({"R", "G", "B", "Ha"});
  EXPECT_THAT(extra.unused, ElementsAre(3));
}

TEST(Channels, NamesFromARecipeWin) {
  const auto mapped = plan({"Ha", "OIII", "x"}, {"", "Ha", "x", "O3"});
  EXPECT_THAT(mapped.sources, ElementsAre(ElementsAre(0), ElementsAre(2), ElementsAre(1)));
  const auto grey = plan({"R", "G", "B"}, {"G", "", "", ""});
  EXPECT_EQ(grey.grey, 1);
  EXPECT_THAT(grey.unused, ElementsAre(0, 2));
}

TEST(Channels, RefusalsSayWhy) {
  EXPECT_THAT(refusal({"R", "red", "B"}), HasSubstr("two masters have the filter 'red'"));
  EXPECT_THAT(refusal({"R", "G", "mystery"}), HasSubstr("'mystery' is not known"));
  EXPECT_THAT(refusal({"Ha", "Hb", "OIII", "SII"}), HasSubstr("name red, green and blue"));
  EXPECT_THAT(refusal({"R", "G", "B"}, {"L", "", "", ""}), HasSubstr("no master has that filter"));
  EXPECT_THAT(refusal({"R", "G", "B"}, {"", "R", "G", ""}), HasSubstr("or for none"));
}

}  // namespace
}  // namespace ng::finish
