// app/night_frames.h - the lights of a night, or of a folder of masters, as they were judged: from the recipes that
// stand beside the masters.
#pragma once

#include <array>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

struct NightFramesRequest {
  std::optional<std::filesystem::path> workspace;
  std::string date;                              // local evening date; empty: every night
  std::optional<std::filesystem::path> masters;  // this folder alone; empty: all below masters/
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("date", self.date);
    visit("masters", self.masters);
  }
};

struct NightFrame {
  std::string path;     // below the workspace; empty where the file is not there any more
  std::string name;     // of the file
  std::string masters;  // the folder below the workspace
  std::string filter, night;
  std::string start, local_start;  // UTC, and the site's clock; empty where the header has no time
  bool accepted = false;
  std::string reason;  // why it was left out
  std::optional<double> exposure_s, fwhm_px, eccentricity, background_e, transmission, weight, equivalent_min;
  std::optional<int> stars, trails;
  std::optional<std::array<double, 6>> transform;  // 0-based frame pixels -> master pixels, as in ReduceFrame
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("path", self.path);
    visit("name", self.name);
    visit("masters", self.masters);
    visit("filter", self.filter);
    visit("night", self.night);
    visit("start", self.start);
    visit("local_start", self.local_start);
    visit("accepted", self.accepted);
    visit("reason", self.reason);
    visit("exposure_s", self.exposure_s);
    visit("fwhm_px", self.fwhm_px);
    visit("eccentricity", self.eccentricity);
    visit("background_e", self.background_e);
    visit("transmission", self.transmission);
    visit("weight", self.weight);
    visit("equivalent_min", self.equivalent_min);
    visit("stars", self.stars);
    visit("trails", self.trails);
    visit("transform", self.transform);
  }
};

struct FramesOfNight {
  std::string night;
  int frames = 0;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("night", self.night);
    visit("frames", self.frames);
  }
};

struct NightFramesReply {
  std::vector<NightFrame> frames;     // in the order of time; a frame that went into several folders of masters once
  std::vector<FramesOfNight> nights;  // all that have frames, whatever the date asked for
  std::vector<std::string> notes;     // recipes that tell nothing
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("frames", self.frames);
    visit("nights", self.nights);
    visit("notes", self.notes);
  }
};

// Errors: those of open_workspace(), kNotFound (no such folder), kInvalidInput (a date that is none).
[[nodiscard]] Result<NightFramesReply> night_frames(const NightFramesRequest& request, const Context& ctx);

}  // namespace ng::app
