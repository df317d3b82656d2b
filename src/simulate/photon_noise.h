// simulate/photon_noise.h - counting noise of a row of pixels: the hot loop of a rehearsal.
//
// Bits come from Philox 4x32-10 (math/random.h), one block for two pixels, so that a row depends on seed and stream
// alone; all arithmetic is plain IEEE single precision in a fixed order, so that the same bytes come out on any
// processor, vectorised or not.
//   normals   Box & Muller 1958 from 31-bit uniforms: |z| never exceeds 6.7
//   photons   mean >= 10: expansion of the Poisson quantile in a normal deviate z (Giles 2016, ACM TOMS 42(1) 7, eq.
//   for
//             Q_N2, from memory): floor(m + z sqrt(m) + 1/3 + z^2/6 - (z/36 + z^3/72)/sqrt(m)). Against the exact
//             probabilities at a mean of 10: total variation 6e-4, mean wrong by 1e-5, variance by 6e-5 of itself; less
//             for larger means. Below 10: exact inversion (its one exponential comes from the C library, whose last bit
//             may differ between libraries: that turns one draw in 1e15).
// The slow twin in the tests draws by math::Random.
#pragma once

#include <cstdint>
#include <span>

namespace ng::simulate {

// photons[i] gets a Poisson deviate of mean[i] (>= 0, below 1e7), normals[i] an independent standard normal deviate.
void draw_noise(std::uint64_t seed, std::uint64_t stream, std::span<const float> mean, std::span<float> photons,
                std::span<float> normals);

}  // namespace ng::simulate
