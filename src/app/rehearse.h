// app/rehearse.h - renders a night into a folder, with the truth about it beside the frames.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/context.h"
#include "base/result.h"
#include "simulate/scenario.h"

namespace ng::app {

struct RehearseRequest {
  std::filesystem::path out;
  simulate::NightSize night = simulate::NightSize::kSmall;
  bool mosaic = false;
  std::optional<std::filesystem::path> scenario;  // TOML, over the built-in night
  // The options of the command, over both.
  std::optional<std::uint64_t> seed;
  std::vector<std::string> filters;
  std::optional<int> lights;  // of each filter
  std::optional<int> darks, flats, bias, dark_flats;
  std::optional<int> width, height;
  std::optional<double> exposure_s;
  // Empty: the built-in one. "none": no catalogue, all stars drawn.
  std::string catalogue;
  // Folder for noiseless pictures of stars and nebula, one per filter; apart from `out`, whose files are taken for
  // frames.
  std::optional<std::filesystem::path> truth_images;
  // Without `catalogue`, which may be any file of the machine.
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("out", self.out);
    visit("night", self.night);
    visit("mosaic", self.mosaic);
    visit("scenario", self.scenario);
    visit("seed", self.seed);
    visit("filters", self.filters);
    visit("lights", self.lights);
    visit("darks", self.darks);
    visit("flats", self.flats);
    visit("bias", self.bias);
    visit("dark_flats", self.dark_flats);
    visit("width_px", self.width);
    visit("height_px", self.height);
    visit("exposure_s", self.exposure_s);
    visit("truth_images", self.truth_images);
  }
};

struct RehearseCount {
  std::string kind;
  std::string filter;  // empty where filters do not matter
  int frames = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("kind", self.kind);
    visit("filter", self.filter);
    visit("frames", self.frames);
  }
};

struct RehearseReply {
  std::string folder;
  std::string truth;
  std::vector<std::string> truth_images;
  std::vector<RehearseCount> counts;
  std::vector<std::string> frames;
  int width = 0;
  int height = 0;
  int stars = 0;
  int catalogue_stars = 0;
  double exposure_s = 0;
  double scale_arcsec_px = 0;
  std::uint64_t seed = 0;
  double seconds = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("folder", self.folder);
    visit("truth", self.truth);
    visit("truth_images", self.truth_images);
    visit("counts", self.counts);
    visit("frames", self.frames);
    visit("width", self.width);
    visit("height", self.height);
    visit("stars", self.stars);
    visit("catalogue_stars", self.catalogue_stars);
    visit("exposure_s", self.exposure_s);
    visit("scale_arcsec_px", self.scale_arcsec_px);
    visit("seed", self.seed);
    visit("seconds", self.seconds);
  }
};

// Errors: kInvalidInput (options or scenario), kExists (a file is in the way; nothing is written then), kNotFound (no
// catalogue), kIo, kCancelled. After an error none of the frames of this run is left behind.
[[nodiscard]] Result<RehearseReply> rehearse(const RehearseRequest& request, const Context& ctx);

}  // namespace ng::app
