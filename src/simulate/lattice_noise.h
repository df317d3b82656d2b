// simulate/lattice_noise.h - smooth random functions of the plane: the raw material of clouds and nebulae.
//
// Gradient noise on the integer lattice (Perlin 1985, Computer Graphics 19, 287, with the quintic fade of Perlin 2002,
// ACM Trans. Graph. 21, 681); gradients come from a hash of seed and node. Values lie within about -1..1, rms near
// 0.35.
#pragma once

#include <cstdint>

namespace ng::simulate {

class LatticeNoise {
 public:
  explicit LatticeNoise(std::uint32_t seed) : seed_(seed) {}

  [[nodiscard]] float at(float x, float y) const;
  // Sum of octaves, each of twice the frequency and `gain` times the amplitude of the one before, turned so that their
  // lattices do not line up.
  [[nodiscard]] float octaves(float x, float y, int count, float gain = 0.5f) const;
  // The same of 1 - |noise| squared: thin bright ridges, between 0 and about 1.
  [[nodiscard]] float ridges(float x, float y, int count, float gain = 0.5f) const;

 private:
  std::uint32_t seed_;
};

}  // namespace ng::simulate
