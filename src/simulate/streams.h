// simulate/streams.h - which random sequence belongs to what, so that every draw depends on the seed and its place
// alone.
#pragma once

#include <cstdint>

namespace ng::simulate {

enum class Stream : std::uint8_t {
  kField,
  kCluster,
  kPlan,
  kSeeing,
  kSensor,
  kDust,
  kHotPixels,
  kCosmicRays,
  kPixels,
  kTelegraph
};

// One sequence per purpose, frame and row. Frames below 2^24, rows below 2^32.
[[nodiscard]] constexpr std::uint64_t stream(Stream purpose, std::uint32_t frame = 0, std::uint32_t row = 0) {
  return static_cast<std::uint64_t>(purpose) << 56 | static_cast<std::uint64_t>(frame) << 32 | row;
}

}  // namespace ng::simulate
