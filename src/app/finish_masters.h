// app/finish_masters.h - masters from files into channels: which part all of them have seen, and its pixels.
//
// A master is a FITS image of floats in electrons, one plane (its filter in the FILTER card) or three (R, G, B), with
// extensions VARIANCE and COVERAGE of the same shape. Pixels without data are NaN. All masters of one picture lie on
// one grid. Without VARIANCE the noise of the sky is measured and taken for all pixels; without COVERAGE every finite
// pixel counts as covered: both are said in a note.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "app/recipe.h"
#include "base/context.h"
#include "base/image.h"
#include "base/result.h"

namespace ng::app {

struct Channel {
  std::string filter;
  Image<float> image;     // electrons; no NaN
  Image<float> variance;  // positive; no NaN
};

class MasterSet {
 public:
  // Reads headers, and the bytes for the hashes. Errors: kNotFound, kIo, kCorrupt, kUnsupported, kNoMatch (different
  // sizes), kInvalidInput (no master, no filter name where one is needed), kCancelled.
  [[nodiscard]] static Result<MasterSet> open(const std::vector<std::filesystem::path>& paths, const Context& ctx);

  [[nodiscard]] int width() const { return width_; }
  [[nodiscard]] int height() const { return height_; }
  [[nodiscard]] const std::vector<RecipeInput>& inputs() const { return inputs_; }

  // The smallest coverage of all masters at each pixel, as a share of the full one.
  [[nodiscard]] Result<Image<float>> common_coverage(const Context& ctx) const;
  // The pixels of a region, one channel per filter, in the order of the masters. Adds to `notes`.
  [[nodiscard]] Result<std::vector<Channel>> load(const Region& region, std::vector<std::string>& notes,
                                                  const Context& ctx) const;

 private:
  struct Master {
    std::filesystem::path path;
    std::vector<std::string> filters;  // one per plane
  };
  int width_ = 0;
  int height_ = 0;
  std::vector<Master> masters_;
  std::vector<RecipeInput> inputs_;
};

}  // namespace ng::app
