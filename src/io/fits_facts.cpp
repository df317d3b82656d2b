#include "io/fits_facts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "io/facts_reader.h"

namespace ng::io {
namespace {

bool says_nothing(std::string_view text) {
  const std::string t = upper(text);
  return t.empty() || t == "N/A" || t == "NA" || t == "UNKNOWN" || t == "UNSPECIFIED" || t == "NAN" ||
         t == "NOTPRESENT";
}

// Two cards of one name that disagree: the first counts, and the user is told.
void read_duplicates(FactsReader& reader) {
  const auto& all = reader.cards().all();
  for (const std::string_view name : {"BZERO", "BSCALE", "EXPTIME", "EXPOSURE", "DATE-OBS", "FILTER", "IMAGETYP"}) {
    const ScannedCard* first = reader.cards().find(name);
    if (first == nullptr) continue;
    for (const ScannedCard& card : all) {
      if (card.name != name || card.text == first->text) continue;
      const auto a = leading_number(first->text);
      const auto b = leading_number(card.text);
      if (a && b && a->rest.empty() && b->rest.empty() && a->value == b->value) continue;
      reader.warn(fmt::format("{} stands twice in the header, as '{}' and '{}': the first is taken", name, first->text,
                              card.text));
      break;
    }
  }
}

}  // namespace

void FactsReader::warn(std::string text) {
  auto& list = facts_.warnings;
  if (std::find(list.begin(), list.end(), text) == list.end()) list.push_back(std::move(text));
}

std::optional<FoundNumber> FactsReader::number(Names names) {
  for (const std::string_view name : names) {
    const ScannedCard* card = cards_.find(name);
    if (card == nullptr || says_nothing(card->text)) continue;
    const auto number = leading_number(card->text);
    if (!number) {
      warn(fmt::format("{} = '{}' is not a number: ignored", name, card->text));
      continue;
    }
    if (!card->fault.empty())
      warn(fmt::format("the card {} is illegal ({}): read as {}", name, card->fault, number->value));
    return FoundNumber{number->value, card, lower(std::string(number->rest) + " " + card->comment)};
  }
  return std::nullopt;
}

std::optional<FoundNumber> FactsReader::number_within(Names names, double low, double high) {
  for (const std::string_view name : names) {
    auto found = number({name});
    if (!found) continue;
    if (found->value >= low && found->value <= high) return found;
    warn(fmt::format("{} = {} cannot be: ignored", name, found->card->text));
  }
  return std::nullopt;
}

std::string FactsReader::text(Names names) {
  for (const std::string_view name : names) {
    const ScannedCard* card = cards_.find(name);
    if (card == nullptr || says_nothing(card->text)) continue;
    if (!card->fault.empty())
      warn(fmt::format("the card {} is illegal ({}): read as '{}'", name, card->fault, card->text));
    return card->text;
  }
  return {};
}

FrameFacts fits_facts(const FitsLayout& layout, const std::filesystem::path& path) {
  FrameFacts facts;
  facts.width = layout.image.width;
  facts.height = layout.image.height;
  facts.planes = layout.image.planes;
  FactsReader reader(layout.cards, facts);
  read_duplicates(reader);
  read_kind(reader, path.filename().string());
  read_camera(reader);
  read_mosaic_pattern(reader);
  read_optics(reader);
  read_start(reader);
  read_pointing(reader);
  read_site(reader);
  read_reduction_state(reader);
  facts.camera = reader.text({"INSTRUME", "CAMERA", "DETECTOR"});
  facts.telescope = reader.text({"TELESCOP"});
  facts.object = reader.text({"OBJECT", "OBJNAME", "FIELD"});
  return facts;
}

}  // namespace ng::io
