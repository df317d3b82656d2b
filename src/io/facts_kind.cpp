// Kind of frame, and what was done to it already.
#include <fmt/format.h>

#include <cctype>
#include <vector>

#include "io/facts_reader.h"

namespace ng::io {
namespace {

bool has(std::string_view text, std::string_view part) {
  return text.find(part) != std::string_view::npos;
}

// 'Light Frame', 'LIGHT', 'object', 'Dark Flat', 'FLATFIELD', 'skyflat', 'zero' ...: letters alone decide.
FrameKind kind_of(std::string_view text) {
  std::string letters;
  for (const char c : lower(text))
    if (c >= 'a' && c <= 'z') letters += c;
  const bool flat = has(letters, "flat") || letters == "twilight";
  const bool dark = has(letters, "dark");
  if (flat && dark) return FrameKind::kDarkFlat;
  if (flat) return FrameKind::kFlat;
  if (dark) return FrameKind::kDark;
  if (has(letters, "bias") || has(letters, "zero") || letters == "offset" || letters == "offsetframe")
    return FrameKind::kBias;
  for (const std::string_view word : {"light", "object", "science", "expos", "target"})
    if (has(letters, word)) return FrameKind::kLight;
  return letters == "sci" || letters == "obj" ? FrameKind::kLight : FrameKind::kUnknown;
}

// Whole words of a file name: "Bias_frame0001" has "bias" and "frame"; "biased" is another word.
FrameKind kind_hint(std::string_view file_name) {
  std::vector<std::string> words(1);
  for (const char c : lower(file_name)) {
    if (c >= 'a' && c <= 'z') {
      words.back() += c;
    } else if (!words.back().empty()) {
      words.emplace_back();
    }
  }
  bool bias = false, dark = false, flat = false, light = false;
  for (const std::string& w : words) {
    bias = bias || w == "bias" || w == "biases" || w == "zero";
    dark = dark || w == "dark" || w == "darks" || w == "darkflat" || w == "flatdark";
    flat = flat || w == "flat" || w == "flats" || w == "skyflat" || w == "darkflat" || w == "flatdark";
    light = light || w == "light" || w == "lights";
  }
  if (dark && flat) return FrameKind::kDarkFlat;
  const int hints = int{bias} + int{dark} + int{flat} + int{light};
  if (hints != 1) return FrameKind::kUnknown;
  return bias ? FrameKind::kBias : dark ? FrameKind::kDark : flat ? FrameKind::kFlat : FrameKind::kLight;
}

bool is_one(const FitsCards& cards, std::string_view name) {
  return cards.is_true(name) || cards.integer(name) == 1;
}

}  // namespace

void read_kind(FactsReader& reader, std::string_view file_name) {
  FrameFacts& facts = reader.facts();
  for (const std::string_view name : {"IMAGETYP", "FRAME", "FRAMETYP", "OBSTYPE", "IMGTYPE"}) {
    const ScannedCard* card = reader.cards().find(name);
    if (card == nullptr || !card->quoted || card->text.empty()) continue;
    facts.kind = kind_of(card->text);
    if (facts.kind != FrameKind::kUnknown) return;
    reader.warn(fmt::format("{} = '{}' is not a kind of frame that is known here", name, card->text));
  }
  facts.kind = kind_hint(file_name);
  if (facts.kind != FrameKind::kUnknown)
    reader.warn(fmt::format("the header does not say the kind of frame: taken as {} from the file name",
                            to_string(facts.kind)));
}

void read_reduction_state(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  const FitsCards& cards = reader.cards();
  for (const ScannedCard& card : cards.all()) {
    if (card.name != "HISTORY") continue;
    const std::string line = lower(card.text);
    const bool done = has(line, "subtract") || has(line, "reduc") || has(line, "calibrat") || has(line, "correct") ||
                      has(line, "divi");
    facts.dark_subtracted = facts.dark_subtracted || (done && has(line, "dark"));
    facts.flat_fielded = facts.flat_fielded || (done && has(line, "flat"));
  }
  const std::string state = upper(reader.text({"CALSTAT"}));  // letters B, D, F of the steps done
  facts.dark_subtracted = facts.dark_subtracted || has(state, "D") || is_one(cards, "L1STATDA");
  facts.flat_fielded = facts.flat_fielded || has(state, "F") || is_one(cards, "L1STATFL");

  const std::string unit = lower(reader.text({"BUNIT"}));
  const bool electrons = unit.starts_with("electron") || unit == "e-" || unit == "e" || unit.starts_with("e-/p");
  const bool rate = has(unit, "/s") || has(unit, "s-1") || has(unit, "s**-1") || has(unit, "per sec");
  if (electrons && rate) {
    facts.electrons_per_adu = facts.exposure_s;
    reader.warn("BUNIT is electrons per second: counted as electrons by the exposure time");
  } else if (electrons) {
    facts.electrons_per_adu = 1;
  }
  facts.calibrated = electrons || (facts.dark_subtracted && facts.flat_fielded);
}

}  // namespace ng::io
