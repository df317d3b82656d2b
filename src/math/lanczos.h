// math/lanczos.h - the Lanczos-3 kernel as a table of weights.
//
// L(x) = sinc(x) sinc(x/3) for |x| < 3 (Duchon 1979, J. Appl. Meteorology 18, 1016; Turkowski 1990, Graphics Gems I).
// Six taps around a position; each set of weights is normalised to sum 1, so that a constant stays constant and flux is
// conserved on a grid of the same scale. The table has 1024 phases between two pixels, position rounded to the nearest:
// an error of at most 1/2048 px, without a mean.
#pragma once

#include <array>

namespace ng::math {

class LanczosTable {
 public:
  static constexpr int kTaps = 6;
  static constexpr int kPhases = 1024;
  struct Weights {
    // Six taps for pixels -2 ... +3 around floor(x), laid out as two vectors of four that overlap by two pixels, so
    // that no pixel outside the six is ever read: `left` for -2 ... +1, `right` for 0 ... +3 with zeros for 0 and +1.
    std::array<float, 4> left;
    std::array<float, 4> right;
    float sum_of_squares;

    [[nodiscard]] float tap(std::size_t k) const { return k < 4 ? left[k] : right[k - 2]; }
  };

  LanczosTable();
  // Weights for a position floor(x) + phase / kPhases, 0 <= phase <= kPhases.
  [[nodiscard]] const Weights& at(int phase) const { return weights_[static_cast<std::size_t>(phase)]; }

 private:
  alignas(64) std::array<Weights, kPhases + 1> weights_;
};

}  // namespace ng::math
