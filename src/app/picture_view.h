// app/picture_view.h - an image of any size for someone who looks at it: tiles of linear values at every zoom, what is
// usual in it, and single pixels with their uncertainty.
//
// Level 0 is the image itself, read from its file when asked for; each higher level halves both sides, a pixel being
// the mean of those of the four below that are defined. Levels from 1 on are held in memory: a third of the image.
#pragma once

#include <filesystem>
#include <list>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "app/message.h"
#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/source.h"

namespace ng::app {

inline constexpr int kTilePx = 256;

struct PictureFacts {
  int width = 0, height = 0, planes = 1;
  int levels = 1;
  int tile_px = kTilePx;
  std::string object, filter, unit;
  std::vector<double> sky, noise;  // per plane: median, and robust scatter, of all pixels
  // Per plane, counts over u = asinh((value - sky) / noise), from histogram_from to histogram_to in equal steps.
  double histogram_from = -4, histogram_to = 12;
  std::vector<std::vector<int>> histogram;
  bool has_variance = false, has_coverage = false;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("width", self.width);
    visit("height", self.height);
    visit("planes", self.planes);
    visit("levels", self.levels);
    visit("tile_px", self.tile_px);
    visit("object", self.object);
    visit("filter", self.filter);
    visit("unit", self.unit);
    visit("sky", self.sky);
    visit("noise", self.noise);
    visit("histogram_from", self.histogram_from);
    visit("histogram_to", self.histogram_to);
    visit("histogram", self.histogram);
    visit("has_variance", self.has_variance);
    visit("has_coverage", self.has_coverage);
  }
};

struct PixelProbe {
  int x = 0, y = 0;                                 // 0-based
  std::vector<std::optional<double>> value, error;  // per plane; none where undefined or not known
  std::vector<std::optional<double>> coverage_s;
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("x", self.x);
    visit("y", self.y);
    visit("value", self.value);
    visit("error", self.error);
    visit("coverage_s", self.coverage_s);
  }
};

class Picture {
 public:
  // Errors: those of io::open_frame() and of reading, kCancelled.
  [[nodiscard]] static Result<std::shared_ptr<Picture>> open(const std::filesystem::path& path, const Context& ctx);

  [[nodiscard]] const PictureFacts& facts() const { return facts_; }
  // Tile (column, row) of a level, at most kTilePx on a side; NaN = undefined. Any thread. Errors: kNotFound where
  // there is no such tile, those of reading.
  [[nodiscard]] Result<Image<float>> tile(int level, int column, int row, int plane);
  // Errors: kNotFound outside of the image, those of reading.
  [[nodiscard]] Result<PixelProbe> probe(int x, int y);

 private:
  Picture() = default;
  Result<void> build(const Context& ctx);
  void describe(int plane);

  std::mutex reading_;
  std::unique_ptr<FrameSource> source_, variance_, coverage_;
  std::vector<Image<float>> levels_;  // from level 1, all planes
  PictureFacts facts_;
};

// The pictures that were looked at last stay open.
class PictureShelf {
 public:
  [[nodiscard]] Result<std::shared_ptr<Picture>> open(const std::filesystem::path& path, const Context& ctx);

 private:
  struct Entry {
    std::filesystem::path path;
    std::filesystem::file_time_type changed;
    std::shared_ptr<Picture> picture;
  };
  std::mutex mutex_;
  std::list<Entry> entries_;  // the last one first
};

}  // namespace ng::app
