// reduce/stack/proper_tile.h - proper coaddition of one tile: frames go in one after the other, one picture comes out.
//
// Zackay & Ofek 2017, ApJ 836, 188, eq. 7 ff. (from memory; normalisation tested by simulation): with M_j the transform
// of frame j on the common flux scale, P_j that of its profile, w_j = 1 / variance of its white noise,
//   R = sum_j w_j conj(P_j) M_j / sqrt(sum_j w_j |P_j|^2),   divided by sqrt(sum_j w_j):
// a star of flux f then stands in R as f P_R with P_R = sqrt(sum_j w_j |P_j|^2 / sum_j w_j), P_R(0) = 1, and the noise
// is white, of variance 1 / sum_j w_j per pixel. Nothing that the frames knew of faint stars is lost: filtered with
// P_R, R is the best linear detector. Departures: profiles are symmetric, hence real and positive; frames come
// resampled, which puts the kernel's response into P_j and its noise power into w_j (profile_transform.h), both as
// averages over the places between pixels.
//
// What is no measurement must not leave a hole: a frame's value is replaced by what the master predicts for that frame,
// the master brought to the frame's own seeing by the ratio of the two profiles. The same prediction tells outliers, by
// the rule of math/combine.h: a frame's sharper or wider star is none.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "frame/profile.h"
#include "math/square_transform.h"
#include "math/transform.h"
#include "reduce/stack/profile_transform.h"

namespace ng::reduce {

// One frame as a tile sees it.
struct TileFrame {
  const ProfileTransform* transform = nullptr;
  Profile profile;         // at the tile's middle, frame pixels
  math::Affine to_master;  // likewise
  const GridResponse* grid = nullptr;
  float information = 1;   // w_j: 1 / variance of a master pixel of bare sky, before the resampling averages. 0 for a
                           // frame that only the master was made of: it is not coadded
  float mean_weight = 1;   // in the master, any scale
  float signal_share = 0;  // by which a unit of signal adds to a pixel's variance (math/combine.h)
};

struct OutlierRule {
  bool reject = true;  // false: too few frames to tell
  float kappa = 4.5f;
  float near_share = 0.55f;        // of kappa, for the eight neighbours of a hit
  float slope_allowance = 0.3f;    // pixels
  float profile_allowance = 0.3f;  // share of what the change of seeing makes in the prediction
};

// What became of a frame's pixels.
enum class Fate : std::uint8_t { kAbsent, kOutlier, kKept };

struct TilePixel {
  int x, y;
};

// Memory of one hand, used for tile after tile.
struct TileScratch {
  explicit TileScratch(const math::SquareTransform& t)
      : values(t.tile()),
        variance(t.tile()),
        predicted(t.tile()),
        slope(t.side(), 1),
        fate(t.side(), t.side()),
        spectrum(t.spectrum()),
        filter(t.side() / 2 + 1, t.side()),
        rows(t.side() / 2 + 1, 2) {}
  Image<float> values, variance;  // the frame on the tile: set by the caller, used up; NaN = no measurement
  Image<float> predicted, slope;
  Image<Fate> fate;             // what add() found
  std::vector<TilePixel> hits;  // of the last frame, without what fell beside them
  math::Spectrum spectrum;
  Image<float> filter, rows;
};

class ProperTile {
 public:
  explicit ProperTile(const math::SquareTransform& transform);

  // `master`: the ordinary master on the tile, finite everywhere; `sky`: the level above which light is signal. All
  // frames that the master was made of; those that are coadded will come in the same order.
  void begin(const Image<float>& master, const Image<float>& sky, std::span<const TileFrame> frames,
             TileScratch& scratch);
  // Frames in the order of begin(); `scratch` holds the frame's values and gets their fate.
  void add(const TileFrame& frame, const OutlierRule& rule, TileScratch& scratch);
  // The coadded tile.
  void finish(Image<float>& out, TileScratch& scratch) const;

  [[nodiscard]] double information() const { return information_; }  // sum of w_j
  // Transform of P_R, as a half spectrum.
  [[nodiscard]] Image<float> profile() const;

 private:
  void judge(const TileFrame& frame, const OutlierRule& rule, float noise_gain, TileScratch& scratch) const;

  const math::SquareTransform& transform_;
  int columns_;
  double information_ = 0;
  float level_ = 0;  // taken off the master before the transform, for the sake of the digits
  Image<float> master_, sky_;
  math::Spectrum master_spectrum_, numerator_;
  Image<float> mean_profile_, denominator_;
};

}  // namespace ng::reduce
