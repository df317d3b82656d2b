// math/random.h - random numbers that depend on a seed and a place, never on time, thread or order.
//
// Generator: Philox 4x32-10, a keyed counter (Salmon, Moraes, Dror & Shaw 2011, "Parallel random numbers: as easy as
// 1, 2, 3", SC'11). Random(seed, stream) is one independent sequence; give each frame, row or star its own stream and
// the same seed gives the same bytes for any number of threads, on any machine.
#pragma once

#include <array>
#include <cstdint>

namespace ng::math {

class Random {
 public:
  Random(std::uint64_t seed, std::uint64_t stream);

  [[nodiscard]] std::uint32_t bits();  // 32 uniform bits
  [[nodiscard]] double uniform();      // in [0, 1), 53 bits
  [[nodiscard]] double normal();       // mean 0, variance 1 (Box & Muller 1958, Ann. Math. Stat. 29, 610)
  // Poisson deviate of the given mean >= 0: by inversion below 10, above by transformed rejection "PTRS"
  // (Hormann 1993, Insurance: Mathematics and Economics 12, 39). Exact for any mean below 1e9.
  [[nodiscard]] std::int64_t poisson(double mean);

  // The raw block function, public so that it can be tested against the published vectors.
  [[nodiscard]] static std::array<std::uint32_t, 4> philox(std::array<std::uint32_t, 4> counter,
                                                           std::array<std::uint32_t, 2> key);

 private:
  std::array<std::uint32_t, 2> key_;
  std::array<std::uint32_t, 4> counter_;
  std::array<std::uint32_t, 4> block_{};
  int left_ = 0;
  double spare_normal_ = 0;
  bool has_spare_ = false;
};

}  // namespace ng::math
