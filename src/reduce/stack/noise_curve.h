// reduce/stack/noise_curve.h - how the noise of bare sky really falls from the first frame of a night to the last.
//
// The frames themselves tell it: the mean of the first n differs from the mean of the others by noise alone, whatever
// stars and nebulae they show. Over many pixels the scatter of that difference, in units of the predicted one, is what
// the prediction was wrong by (1 = right); times the predicted noise of the first n it is their noise. For all frames
// together the means of the even and the odd ones are compared. Noise that all frames share (an undithered flat)
// cancels in the difference: that is what the noise measured on the master itself is for.
#pragma once

#include <span>
#include <vector>

#include "math/combine.h"

namespace ng::reduce {

// Sigma of a frame by which a pixel may stand above the sky and count as bare. Stars are left out, for their flanks
// move with the seeing, and their photons count only as well as the gain is known.
inline constexpr float kBareSky = 0.5f;

struct NoisePoint {
  int frames = 0;
  double noise = 0;  // of one master pixel, after the resampling
  double predicted = 0;
};

class NoiseCurve {
 public:
  explicit NoiseCurve(int frames);

  // One row's contribution, stretch by stretch from left to right. Rows may be sampled in any order and by several
  // threads, but are added in order of the picture, by one: the curve then has the same bits for any number of threads.
  struct Sample {
    std::vector<std::vector<float>> pulls;      // per point of the curve
    std::vector<std::vector<float>> predicted;  // per point, noise of the mean
  };
  struct Stretch {  // pointers to its first column
    std::span<const math::CombineInput> inputs;
    std::span<const std::size_t> frames;   // which of all frames each input is, ascending
    std::span<math::HitWord* const> hits;  // what is left out of each
    const float* mean = nullptr;
    const float* sky = nullptr;
    int x0 = 0;  // first column; where the samples lie does not depend on the stretches
    int width = 0;
  };
  void sample(const Stretch& stretch, Sample& sample) const;
  void add(Sample sample);

  // Points without enough samples are left out; one frame gives none.
  [[nodiscard]] std::vector<NoisePoint> points() const;

 private:
  int frames_;
  std::vector<int> counts_;  // first frames of each point; the last one is all frames
  Sample sum_;
};

}  // namespace ng::reduce
