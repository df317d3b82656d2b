// app/picture_view.h - an image of any size for someone who looks at it: tiles of linear values at every zoom, what is
// usual in it, and single pixels with their uncertainty.
//
// A master has layers: its values, their error (one standard deviation, from VARIANCE) and its coverage in seconds. A
// finished picture lies within the masters that it was made of: its recipe says where.
//
// Level 0 is the image itself, read from its file when asked for; each higher level halves both sides, a pixel being
// the mean of those of the four below that are defined. Levels from 1 on are held in memory: a third of the image.
#pragma once

#include <cstdint>
#include <filesystem>
#include <list>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "app/enum_words.h"
#include "app/message.h"
#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/source.h"
#include "frame/wcs.h"

namespace ng::app {

inline constexpr int kTilePx = 256;

enum class PictureLayer : std::uint8_t { kValue, kError, kCoverage };
template <>
struct EnumWords<PictureLayer> {
  static constexpr std::array<std::pair<std::string_view, PictureLayer>, 3> kList{
      {{"value", PictureLayer::kValue}, {"error", PictureLayer::kError}, {"coverage", PictureLayer::kCoverage}}};
};

struct PictureFacts {
  int width = 0, height = 0, planes = 1;
  int levels = 1;
  int tile_px = kTilePx;
  std::string object, filter;
  std::string unit;                // "electron", "adu"; "s" of coverage; "display" of a finished picture
  double display_white = 0;        // of a finished picture: the value that is white
  int left_px = 0, top_px = 0;     // of a finished picture: where its first pixel lies in its masters
  std::vector<double> sky, noise;  // per plane: median, and robust scatter, of all pixels
  // Per plane, counts over u = asinh((value - sky) / noise), from histogram_from to histogram_to in equal steps.
  double histogram_from = -4, histogram_to = 12;
  std::vector<std::vector<int>> histogram;
  std::vector<double> low, high;  // per plane: of all pixels that are defined one in a hundred lies below, above
  bool has_variance = false, has_coverage = false;
  bool placed = false;  // where it lies on the sky is known
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
    visit("display_white", self.display_white);
    visit("left_px", self.left_px);
    visit("top_px", self.top_px);
    visit("sky", self.sky);
    visit("noise", self.noise);
    visit("histogram_from", self.histogram_from);
    visit("histogram_to", self.histogram_to);
    visit("histogram", self.histogram);
    visit("low", self.low);
    visit("high", self.high);
    visit("has_variance", self.has_variance);
    visit("has_coverage", self.has_coverage);
    visit("placed", self.placed);
  }
};

struct PixelProbe {
  int x = 0, y = 0;                                 // 0-based
  std::vector<std::optional<double>> value, error;  // per plane; none where undefined or not known
  std::vector<std::optional<double>> coverage_s;
  std::optional<double> ra_deg, dec_deg;  // ICRS
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("x", self.x);
    visit("y", self.y);
    visit("value", self.value);
    visit("error", self.error);
    visit("coverage_s", self.coverage_s);
    visit("ra_deg", self.ra_deg);
    visit("dec_deg", self.dec_deg);
  }
};

class Picture {
 public:
  // Errors: those of io::open_frame() and of reading, kNotFound (a layer that the file does not have), kCancelled.
  [[nodiscard]] static Result<std::shared_ptr<Picture>> open(const std::filesystem::path& path, PictureLayer layer,
                                                             const Context& ctx);

  [[nodiscard]] const PictureFacts& facts() const { return facts_; }
  [[nodiscard]] std::size_t memory_bytes() const;
  // Tile (column, row) of a level, at most kTilePx on a side; NaN = undefined. Any thread. Errors: kNotFound where
  // there is no such tile, those of reading.
  [[nodiscard]] Result<Image<float>> tile(int level, int column, int row, int plane);
  // Value, error and coverage, whatever the layer. Errors: kNotFound outside of the image, those of reading.
  [[nodiscard]] Result<PixelProbe> probe(int x, int y);

 private:
  Picture() = default;
  Result<void> build(const Context& ctx);
  void describe(int plane);
  // Rows of the layer that is shown.
  Result<void> read(int plane, int y0, View<float> out);

  std::mutex reading_;
  PictureLayer layer_ = PictureLayer::kValue;
  std::unique_ptr<FrameSource> source_, variance_, coverage_;
  std::vector<Image<float>> levels_;  // from level 1, all planes
  std::optional<Wcs> wcs_;
  PictureFacts facts_;
};

// The pictures that were looked at last stay open, as many as fit into the memory given to them.
class PictureShelf {
 public:
  explicit PictureShelf(std::size_t budget_bytes = std::size_t{600} << 20) : budget_bytes_(budget_bytes) {}
  [[nodiscard]] Result<std::shared_ptr<Picture>> open(const std::filesystem::path& path, PictureLayer layer,
                                                      const Context& ctx);

 private:
  struct Entry {
    std::filesystem::path path;
    PictureLayer layer;
    std::filesystem::file_time_type changed;
    std::shared_ptr<Picture> picture;
  };
  [[nodiscard]] std::shared_ptr<Picture> held(const std::filesystem::path& path, PictureLayer layer,
                                              std::filesystem::file_time_type changed);

  const std::size_t budget_bytes_;
  std::mutex opening_;
  std::mutex mutex_;
  std::list<Entry> entries_;  // the last one first
};

}  // namespace ng::app
