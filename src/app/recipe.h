// app/recipe.h - how a picture was made, in a form that a person can read, change and run again.
//
// A TOML file: the masters with their hashes, then the steps in the order in which they run. A step that is not listed,
// or says on = false, is not done, except those without which there is no picture (kAlways). A key that is not given
// takes its default or, where the table says "found", is found from the data; the recipe written beside a picture holds
// everything that was found, so that running it again gives the same bytes. Units stand in the names of the keys (e =
// electrons).
//
// Each step names its keys once (fields()); reading, writing and checking follow from that.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"

namespace ng::app {

// What is said of a key: its limits, for numbers, and a line for people.
struct RecipeKey {
  double low = 0;
  double high = 0;
  const char* meaning = "";
};

struct RecipeInput {
  std::string path;
  std::string filter;
  std::string xxh128;  // XXH3-128 of the file's bytes, 32 hexadecimal digits
};

struct CropStep {
  static constexpr const char* kName = "crop";
  static constexpr bool kAlways = false;
  bool on = true;
  double min_coverage_share = 0.6;
  std::optional<int> x_px, y_px, width_px, height_px;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("min_coverage_share", self.min_coverage_share,
          RecipeKey{0.01, 1, "of the full coverage, that every pixel kept has about"});
    visit("x_px", self.x_px, RecipeKey{0, 1e6, "found: left column of the part kept, counted from 0"});
    visit("y_px", self.y_px, RecipeKey{0, 1e6, "found: its first row"});
    visit("width_px", self.width_px, RecipeKey{1, 1e6, "found"});
    visit("height_px", self.height_px, RecipeKey{1, 1e6, "found"});
  }
};

struct BackgroundStep {
  static constexpr const char* kName = "background";
  static constexpr bool kAlways = false;
  bool on = true;
  std::optional<int> degree;
  std::vector<std::vector<double>> coefficients_e;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("degree", self.degree, RecipeKey{0, 4, "found: of the sky's surface; 1 is a plane"});
    visit("coefficients_e", self.coefficients_e,
          RecipeKey{-1e12, 1e12, "found: one list per channel; remove the key to have it found again"});
  }
};

struct ChannelsStep {
  static constexpr const char* kName = "channels";
  static constexpr bool kAlways = true;
  bool on = true;
  std::string luminance, red, green, blue;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("luminance", self.luminance, RecipeKey{0, 0, "filter that gives brightness; empty: by the usual names"});
    visit("red", self.red, RecipeKey{0, 0, "filter that gives red"});
    visit("green", self.green, RecipeKey{0, 0, "filter that gives green"});
    visit("blue", self.blue, RecipeKey{0, 0, "filter that gives blue"});
  }
};

struct BalanceStep {
  static constexpr const char* kName = "balance";
  static constexpr bool kAlways = false;
  bool on = true;
  std::optional<double> red_factor, blue_factor;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("red_factor", self.red_factor,
          RecipeKey{1e-3, 1e3, "found: makes the field's mean star neutral; green is 1"});
    visit("blue_factor", self.blue_factor, RecipeKey{1e-3, 1e3, "found"});
  }
};

struct CoresStep {
  static constexpr const char* kName = "cores";
  static constexpr bool kAlways = false;
  bool on = true;
  double level_share = 0.5;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("level_share", self.level_share,
          RecipeKey{0.05, 1, "of a channel's highest level, above which a star's core takes its flank's colour"});
  }
};

struct NoiseStep {
  static constexpr const char* kName = "noise";
  static constexpr bool kAlways = false;
  bool on = true;
  double strength = 0.7;
  double colour_strength = 1.0;
  double snr_limit = 30;
  int scales = 4;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("strength", self.strength, RecipeKey{0, 1, "on brightness: 0 nothing, 1 all that looks like noise"});
    visit("colour_strength", self.colour_strength, RecipeKey{0, 1, "on colour"});
    visit("snr_limit", self.snr_limit, RecipeKey{1, 1e6, "signal to noise of a pixel above which nothing is touched"});
    visit("scales", self.scales, RecipeKey{1, 7, "sizes of structure, each twice the one before"});
  }
};

struct ToneStep {
  static constexpr const char* kName = "tone";
  static constexpr bool kAlways = false;
  bool on = true;
  double sky_display = 0.10;
  double nebula_display = 0.45;
  double saturation = 1.2;
  std::optional<double> black_e, white_e, bend_per_e;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("sky_display", self.sky_display, RecipeKey{0.01, 0.5, "where the sky shall stand, 0 black to 1 white"});
    visit("nebula_display", self.nebula_display,
          RecipeKey{0.02, 0.98, "and the brightest hundredth of the field without its stars"});
    visit("saturation", self.saturation, RecipeKey{0, 4, "of colours; 1 as measured"});
    visit("black_e", self.black_e, RecipeKey{-1e12, 1e12, "found: brightness that becomes black"});
    visit("white_e", self.white_e, RecipeKey{-1e12, 1e12, "found: brightness that becomes white"});
    visit("bend_per_e", self.bend_per_e, RecipeKey{1e-15, 1e15, "found: how early the asinh curve bends"});
  }
};

struct EncodeStep {
  static constexpr const char* kName = "encode";
  static constexpr bool kAlways = true;
  bool on = true;
  int bits = 16;
  int jpeg_quality = 95;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("bits", self.bits, RecipeKey{8, 16, "per value in PNG and TIFF: 8 or 16"});
    visit("jpeg_quality", self.jpeg_quality, RecipeKey{1, 100, "of a .jpg"});
  }
};

struct Recipe {
  std::vector<RecipeInput> inputs;
  CropStep crop;
  BackgroundStep background;
  ChannelsStep channels;
  BalanceStep balance;
  CoresStep cores;
  NoiseStep noise;
  ToneStep tone;
  EncodeStep encode;

  // All steps, in the order in which they run.
  template <typename Self, typename Visitor>
  static void steps(Self& self, Visitor&& visit) {
    visit(self.crop);
    visit(self.background);
    visit(self.channels);
    visit(self.balance);
    visit(self.cores);
    visit(self.noise);
    visit(self.tone);
    visit(self.encode);
  }
};

// Errors: kNotFound, kIo, and kInvalidInput with file, line and key: not TOML, an unknown key or step, a wrong type, a
// value out of its limits, steps out of order or twice.
[[nodiscard]] Result<Recipe> read_recipe(const std::filesystem::path& path);
// The same from text; `name` stands in messages.
[[nodiscard]] Result<Recipe> parse_recipe(const std::string& text, const std::string& name);
// Numbers are written so that they read back as the same bits.
[[nodiscard]] std::string format_recipe(const Recipe& recipe);

}  // namespace ng::app
