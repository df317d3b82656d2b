#include "simulate/lattice_noise.h"

#include <cmath>

namespace ng::simulate {
namespace {

std::uint32_t hash(std::uint32_t x, std::uint32_t y, std::uint32_t seed) {
  std::uint32_t h = x * 0x8da6b343u ^ y * 0xd8163841u ^ seed * 0xcb1ab31fu;
  h = (h ^ h >> 15) * 0x2c1b3c6du;
  h = (h ^ h >> 12) * 0x297a2d39u;
  return h ^ h >> 15;
}

// Dot product of the node's gradient (one of 16 directions) with the way from it.
float pull(std::uint32_t h, float dx, float dy) {
  static constexpr float kCos[16] = {
      1,  0.92387953f,  0.70710678f,  0.38268343f,  0, -0.38268343f, -0.70710678f, -0.92387953f,
      -1, -0.92387953f, -0.70710678f, -0.38268343f, 0, 0.38268343f,  0.70710678f,  0.92387953f};
  return kCos[h & 15] * dx + kCos[(h + 12) & 15] * dy;
}

float fade(float t) {
  return t * t * t * (t * (t * 6 - 15) + 10);
}

// Turn and double: a rotation by 37 degrees, so that lattice directions of octaves differ.
struct Turned {
  float x, y;
};
Turned next_octave(float x, float y) {
  return {2 * (0.79863551f * x - 0.60181502f * y) + 17.3f, 2 * (0.60181502f * x + 0.79863551f * y) - 9.1f};
}

}  // namespace

float LatticeNoise::at(float x, float y) const {
  const float fx = std::floor(x), fy = std::floor(y);
  const auto ix = static_cast<std::uint32_t>(static_cast<std::int32_t>(fx));
  const auto iy = static_cast<std::uint32_t>(static_cast<std::int32_t>(fy));
  const float dx = x - fx, dy = y - fy;
  const float a = pull(hash(ix, iy, seed_), dx, dy), b = pull(hash(ix + 1, iy, seed_), dx - 1, dy);
  const float c = pull(hash(ix, iy + 1, seed_), dx, dy - 1), d = pull(hash(ix + 1, iy + 1, seed_), dx - 1, dy - 1);
  const float u = fade(dx), v = fade(dy);
  const float low = a + u * (b - a), high = c + u * (d - c);
  return 1.41421356f * (low + v * (high - low));
}

float LatticeNoise::octaves(float x, float y, int count, float gain) const {
  float sum = 0, amplitude = 1;
  for (int i = 0; i < count; ++i, amplitude *= gain) {
    sum += amplitude * at(x, y);
    const Turned t = next_octave(x, y);
    x = t.x;
    y = t.y;
  }
  return sum;
}

float LatticeNoise::ridges(float x, float y, int count, float gain) const {
  float sum = 0, amplitude = 1, total = 0;
  for (int i = 0; i < count; ++i, amplitude *= gain) {
    const float r = 1 - std::fabs(at(x, y));
    sum += amplitude * r * r;
    total += amplitude;
    const Turned t = next_octave(x, y);
    x = t.x;
    y = t.y;
  }
  return sum / total;
}

}  // namespace ng::simulate
