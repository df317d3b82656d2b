// reduce/stack/joined_tile.h - one tile of a mosaic of panels: each panel coadded properly by itself, then joined.
//
// Panels have their own seeing; coadded together, the frames of one would be filled with predictions where only the
// other looked, and the noise would neither be white nor what it is said to be. So each panel p gets its own R_p of
// white noise 1 / W_p (proper_tile.h), W_p being the information of its frames at a pixel, and where several see a
// pixel
//   R = sum_p F_p R_p / sum_p F_p,   variance = sum_p F_p^2 / W_p / (sum_p F_p)^2,
// F_p being the same information with the frames fading out towards their borders (feather.h): white as well, and no
// seam. With equal seeing, this is the mean that integrate() makes there, its noise white. The profile changes from
// that of the one panel to that of the other, as in any mosaic.
#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <vector>

#include "base/image.h"
#include "reduce/stack/proper_tile.h"

namespace ng::reduce {

struct JoinedFrame {
  TileFrame frame;
  int panel = 0;
};

class JoinedTile {
 public:
  explicit JoinedTile(const math::SquareTransform& transform) : transform_(transform) {}

  // As ProperTile::begin(), of all frames that reach the tile; their `mean_weight` counts how much of it they see.
  void begin(const Image<float>& master, const Image<float>& sky, std::span<const JoinedFrame> frames,
             TileScratch& scratch);
  // Frames in the order of begin().
  void add(const JoinedFrame& frame, const OutlierRule& rule, TileScratch& scratch);
  // Pixel (x, y) of the tile keeps a value of that panel's frame; `fade` counts where several panels reach the tile.
  void keep(int panel, int x, int y, float information, float fade);
  // The tile, and 1 / variance of its pixels: 0 where no value was kept.
  void finish(Image<float>& out, Image<float>& information, TileScratch& scratch) const;

  [[nodiscard]] bool several() const { return used_ > 1; }
  [[nodiscard]] bool empty() const { return used_ == 0; }

 private:
  struct Part {
    explicit Part(const math::SquareTransform& t) : tile(t), information(t.tile()), faded(t.tile()) {}
    int panel = 0;
    int frames = 0;
    ProperTile tile;
    Image<float> information, faded;  // W and F
  };
  [[nodiscard]] Part& part_of(int panel);

  const math::SquareTransform& transform_;
  std::vector<std::unique_ptr<Part>> parts_;  // memory; the first `used_` count
  std::size_t used_ = 0;
};

}  // namespace ng::reduce
