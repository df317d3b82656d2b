// app/request_words.h - the words of the choices that requests hold.
#pragma once

#include "app/drizzle_plan.h"
#include "app/enum_words.h"
#include "app/reduce.h"
#include "frame/bayer.h"
#include "io/overwrite.h"
#include "reduce/stack/weights.h"
#include "simulate/scenario.h"

namespace ng::app {

template <>
struct EnumWords<BayerPattern> {
  static constexpr std::array<std::pair<std::string_view, BayerPattern>, 4> kList{{{"RGGB", BayerPattern::kRggb},
                                                                                   {"BGGR", BayerPattern::kBggr},
                                                                                   {"GRBG", BayerPattern::kGrbg},
                                                                                   {"GBRG", BayerPattern::kGbrg}}};
};
template <>
struct EnumWords<simulate::NightSize> {
  static constexpr std::array<std::pair<std::string_view, simulate::NightSize>, 2> kList{
      {{"small", simulate::NightSize::kSmall}, {"large", simulate::NightSize::kLarge}}};
};
template <>
struct EnumWords<io::Overwrite> {
  static constexpr std::array<std::pair<std::string_view, io::Overwrite>, 2> kList{
      {{"refuse", io::Overwrite::kRefuse}, {"replace", io::Overwrite::kReplace}}};
};
template <>
struct EnumWords<reduce::Aim> {
  static constexpr std::array<std::pair<std::string_view, reduce::Aim>, 2> kList{
      {{"extended", reduce::Aim::kExtended}, {"point", reduce::Aim::kPoint}}};
};
template <>
struct EnumWords<DrizzleChoice> {
  static constexpr std::array<std::pair<std::string_view, DrizzleChoice>, 3> kList{
      {{"auto", DrizzleChoice::kAuto}, {"yes", DrizzleChoice::kYes}, {"no", DrizzleChoice::kNo}}};
};
template <>
struct EnumWords<Extent> {
  static constexpr std::array<std::pair<std::string_view, Extent>, 3> kList{
      {{"auto", Extent::kAuto}, {"reference", Extent::kReference}, {"all", Extent::kAll}}};
};

}  // namespace ng::app
