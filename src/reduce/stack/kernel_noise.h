// reduce/stack/kernel_noise.h - how much the noise of neighbouring pixels of a master goes together.
//
// Of independent source pixels with weights k, an interpolated value has the variance of one times sum k^2, a sum over
// a wide field that of all its pixels: the ratio of both is told from the weights that really occurred.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "reduce/stack/integrate.h"

namespace ng::reduce {

class KernelNoise {
 public:
  explicit KernelNoise(std::span<const StackFrame> frames) : frames_(frames), sums_(frames.size()) {}

  // Sums of squared weights of some values of a frame; 0 where there is no value. Of different frames at once.
  void add(std::size_t frame, std::span<const float> squares);
  // Noise per pixel of wide fields over that of single pixels, of a plane; 1 where nothing was added.
  [[nodiscard]] double correlation(int plane) const;

 private:
  struct Sum {
    double squares = 0, values = 0;
  };
  std::span<const StackFrame> frames_;
  std::vector<Sum> sums_;
};

}  // namespace ng::reduce
