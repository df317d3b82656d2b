// io/facts_reader.h - looks facts up under several names and keeps account of what is doubtful.
#pragma once

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>

#include "frame/facts.h"
#include "io/fits_card.h"

namespace ng::io {

// A number as a card gives it, with whatever tells its unit.
struct FoundNumber {
  double value = 0;
  const ScannedCard* card = nullptr;
  std::string unit;  // what follows the number and the comment, in lower case: "c", "[deg east] longitude"
};

class FactsReader {
 public:
  using Names = std::initializer_list<std::string_view>;

  FactsReader(const FitsCards& cards, FrameFacts& facts) : cards_(cards), facts_(facts) {}

  [[nodiscard]] const FitsCards& cards() const { return cards_; }
  [[nodiscard]] FrameFacts& facts() { return facts_; }
  void warn(std::string text);

  // The first of the names that carries a number (or a text that begins with one). Illegal cards are read with a
  // warning; "N/A", "UNKNOWN" and the like are no value.
  [[nodiscard]] std::optional<FoundNumber> number(Names names);
  // Likewise, but outside [low, high] the card is ignored with a warning.
  [[nodiscard]] std::optional<FoundNumber> number_within(Names names, double low, double high);
  // The first of the names with a text that is not empty.
  [[nodiscard]] std::string text(Names names);

 private:
  const FitsCards& cards_;
  FrameFacts& facts_;
};

// The parts of fits_facts(), each in a file of its own.
void read_kind(FactsReader& reader, std::string_view file_name);
void read_reduction_state(FactsReader& reader);
void read_camera(FactsReader& reader);
void read_mosaic_pattern(FactsReader& reader);
void read_optics(FactsReader& reader);
void read_start(FactsReader& reader);
void read_pointing(FactsReader& reader);
void read_site(FactsReader& reader);

}  // namespace ng::io
