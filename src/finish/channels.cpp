#include "finish/channels.h"

#include <algorithm>
#include <cctype>

namespace ng::finish {
namespace {

struct Known {
  std::string_view name;
  double wavelength_nm;  // centre of the band; order is all that counts
  std::array<std::string_view, 5> spellings;
};
constexpr std::array kKnown = {
    Known{"L", 0, {"l", "lum", "luminance", "clear", "luminosity"}},
    Known{"R", 630, {"r", "red"}},
    Known{"G", 530, {"g", "green", "v"}},
    Known{"B", 450, {"b", "blue"}},
    Known{"SII", 672, {"sii", "s2", "sulfurii", "sulphurii", "s"}},
    Known{"NII", 658, {"nii", "n2", "nitrogenii", "n"}},
    Known{"Ha", 656, {"ha", "halpha", "hydrogenalpha", "h", "h\xCE\xB1"}},
    Known{"OIII", 501, {"oiii", "o3", "oxygeniii", "o"}},
    Known{"Hb", 486, {"hb", "hbeta", "hydrogenbeta"}},
    Known{"i'", 763, {"i'", "ip", "i"}},
    Known{"r'", 623, {"r'", "rp"}},
    Known{"g'", 477, {"g'", "gp"}},
    Known{"u'", 355, {"u'", "up", "u"}},
};

const Known* find(std::string_view name) {
  std::string plain;
  for (const char c : name)
    if (c != ' ' && c != '-' && c != '_') plain += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  for (const Known& known : kKnown)
    for (const std::string_view spelling : known.spellings)
      if (!spelling.empty() && spelling == plain) return &known;
  return nullptr;
}

int index_of(std::span<const std::string> filters, std::string_view name) {
  for (std::size_t i = 0; i < filters.size(); ++i)
    if (canonical_filter(filters[i]) == canonical_filter(name)) return static_cast<int>(i);
  return -1;
}

Result<ChannelPlan> by_names(std::span<const std::string> filters, const ChannelNames& names) {
  ChannelPlan plan;
  const auto look = [&](const std::string& name, const char* key) -> Result<int> {
    if (name.empty()) return -1;
    const int i = index_of(filters, name);
    if (i >= 0) return i;
    return Error(Code::kInvalidInput,
                 "the recipe takes " + std::string(key) + " from filter '" + name + "', but no master has that filter");
  };
  NG_TRY(plan.luminance, look(names.luminance, "luminance"));
  const std::array keys = {"red", "green", "blue"};
  const std::array colours = {&names.red, &names.green, &names.blue};
  int given = 0;
  for (std::size_t c = 0; c < 3; ++c) {
    NG_TRY(const int i, look(*colours[c], keys[c]));
    if (i >= 0) plan.sources[c].push_back(i);
    given += i >= 0 ? 1 : 0;
  }
  if (given != 0 && given != 3)
    return Error(Code::kInvalidInput, "the recipe must name filters for red, green and blue, or for none of them");
  if (given == 0) plan.grey = plan.luminance;
  return plan;
}

// Colours from the masters that are left, longest wavelength first.
Result<void> by_wavelength(std::span<const std::string> filters, std::vector<int> rest, ChannelPlan& plan) {
  std::stable_sort(rest.begin(), rest.end(), [&](int a, int b) {
    return find(filters[static_cast<std::size_t>(a)])->wavelength_nm >
           find(filters[static_cast<std::size_t>(b)])->wavelength_nm;
  });
  if (rest.size() == 1) {
    plan.grey = plan.luminance >= 0 ? plan.luminance : rest[0];
    if (plan.luminance >= 0) plan.unused.push_back(rest[0]);
  } else if (rest.size() == 2) {
    plan.sources = {std::vector{rest[0]}, {rest[1]}, {rest[1]}};
    plan.notes.push_back(canonical_filter(filters[static_cast<std::size_t>(rest[0])]) + " is shown as red, " +
                         canonical_filter(filters[static_cast<std::size_t>(rest[1])]) + " as blue-green");
  } else if (rest.size() == 3) {
    plan.sources = {std::vector{rest[0]}, {rest[1]}, {rest[2]}};
  } else {
    return Error(Code::kInvalidInput,
                 "these filters can be mapped to colours in several ways: name red, green and blue in the step "
                 "\"channels\" of a recipe");
  }
  return {};
}

}  // namespace

std::string canonical_filter(std::string_view name) {
  const Known* known = find(name);
  return std::string(known != nullptr ? known->name : name);
}

Result<ChannelPlan> plan_channels(std::span<const std::string> filters, const ChannelNames& names) {
  for (std::size_t i = 0; i < filters.size(); ++i)
    if (index_of(filters, filters[i]) != static_cast<int>(i))
      return Error(Code::kInvalidInput, "two masters have the filter '" + filters[i] +
                                            "': give one master per filter (reduce combines frames of one filter)");
  const bool named = !(names.luminance + names.red + names.green + names.blue).empty();
  ChannelPlan plan;
  if (named) {
    NG_TRY(plan, by_names(filters, names));
  } else if (filters.size() == 1) {
    plan.grey = 0;
  } else {
    std::vector<int> rest;
    for (std::size_t i = 0; i < filters.size(); ++i)
      if (find(filters[i]) == nullptr)
        return Error(Code::kInvalidInput, "the filter '" + filters[i] +
                                              "' is not known: name luminance, red, green and blue in the step "
                                              "\"channels\" of a recipe");
    plan.luminance = index_of(filters, "L");
    const std::array rgb = {index_of(filters, "R"), index_of(filters, "G"), index_of(filters, "B")};
    const auto there = std::count_if(rgb.begin(), rgb.end(), [](int i) { return i >= 0; });
    for (int i = 0; i < static_cast<int>(filters.size()); ++i)
      if (i != plan.luminance && (there < 2 || std::find(rgb.begin(), rgb.end(), i) == rgb.end())) rest.push_back(i);
    if (there >= 2) {
      for (std::size_t c = 0; c < 3; ++c) {
        for (const int i : rgb)
          if (i >= 0 && (rgb[c] < 0 || rgb[c] == i)) plan.sources[c].push_back(i);
        if (rgb[c] < 0) {
          constexpr std::array kColours = {"red", "green", "blue"};
          plan.notes.push_back(std::string("there is no ") + kColours[c] +
                               " master: it was replaced by the mean of the other two, so colours are not true");
        }
      }
      plan.unused = rest;
    } else {
      NG_CHECK(by_wavelength(filters, std::move(rest), plan));
    }
  }
  for (int i = 0; named && i < static_cast<int>(filters.size()); ++i) {
    bool used = i == plan.luminance || i == plan.grey;
    for (const auto& s : plan.sources) used = used || std::find(s.begin(), s.end(), i) != s.end();
    if (!used) plan.unused.push_back(i);
  }
  for (const int i : plan.unused)
    plan.notes.push_back("the master of filter " + canonical_filter(filters[static_cast<std::size_t>(i)]) +
                         " was not used");
  return plan;
}

}  // namespace ng::finish
