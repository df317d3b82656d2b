// reduce/stack/band_slots.h - what every frame has to say about a band of the master, on the master's grid.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "math/combine.h"
#include "math/lanczos.h"
#include "math/plane_map.h"
#include "reduce/stack/integrate.h"
#include "reduce/stack/kernel_noise.h"
#include "reduce/stack/light_on_master.h"

namespace ng::reduce {

// Rows of a band: its own, those combined (one more on each side, whose hits reach in), those held in the slots
// (another one, for their slopes).
struct BandRows {
  int y0 = 0, rows = 0;
  int top = 0, bottom = 0;
  int slot_top = 0, slot_rows = 0;

  static constexpr int kSpare = 4;  // rows of a slot more than those of its own
  static constexpr int kSpareCombined = 2;
};
[[nodiscard]] BandRows band_rows(int y0, int most, int height);

// Rows of the master that the noise is told from: enough of them for some 50000 samples.
[[nodiscard]] bool tells_noise(const StackOptions& options, int plane, int y);

struct Slot {
  LightRows light;
  Image<float> fades;         // factors of its weight; empty where it does not fade
  Image<math::HitWord> hits;  // what is left out of it, of the rows combined
  int top = 0, end = 0;       // rows of the master that it holds: top ... end - 1
};

class BandSlots {
 public:
  // Slots for bands as tall as a third of the budget allows; the rest is for source rows and what the caller holds: the
  // masters of calibration and the picture that comes of it.
  BandSlots(std::span<const StackFrame> frames, const StackOptions& options, const Context& ctx);

  [[nodiscard]] int tallest_band() const { return band_; }
  [[nodiscard]] const std::vector<Region>& reaches() const { return reaches_; }  // of all frames

  // The frames that reach the band; the others hold nothing from now on.
  [[nodiscard]] std::vector<std::size_t> take(const BandRows& band);
  // Reads and resamples what one of those does not hold from the band before. Different frames at once. Errors: those
  // of reading.
  [[nodiscard]] Result<void> fill(std::size_t frame, const BandRows& band);
  [[nodiscard]] Slot& operator[](std::size_t frame) { return slots_[frame]; }
  [[nodiscard]] const Slot& operator[](std::size_t frame) const { return slots_[frame]; }

  [[nodiscard]] double noise_correlation() const { return kernels_.correlation(options_.noise_plane); }

 private:
  std::span<const StackFrame> frames_;
  const StackOptions& options_;
  const Context& ctx_;
  const math::LanczosPolynomials lanczos_;
  int band_ = 0;
  std::vector<math::PlaneMap> to_frame_;         // per frame
  std::vector<VarianceMeshes> variance_meshes_;  // likewise
  std::vector<Region> reaches_;                  // likewise
  std::vector<Slot> slots_;                      // likewise, empty where it does not reach the band
  KernelNoise kernels_;
};

}  // namespace ng::reduce
