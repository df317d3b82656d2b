// reduce/stack/common_lens.h - the one lens that bent all frames of a camera, from how their stars fail to fit without
// it.
//
// Frames shifted, turned or flipped against each other draw the same star through different parts of the lens. Places
// are unbent by a radial lens of share k (math/bend.h) on both sides, flat maps are fitted, and k is moved to where the
// sum of squares is least: one unknown for all frames, exact at any size, where a bend fitted to each pair of frames
// stops at cubic terms and needs twenty.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "reduce/stack/align_panels.h"

namespace ng::reduce {

struct CommonLens {
  double distortion = 0;             // k: share by which corners are drawn outwards
  std::vector<math::PlaneMap> maps;  // frame -> reference, both through the lens
  std::vector<double> residual_px;   // rms per axis of each frame's stars; as they are weighed
};

// The radial bend of share k about the middle of a picture.
[[nodiscard]] math::Bend lens_of(int width, int height, double distortion);

// `stars`: of each frame those that it shares with the reference, all pictures of one size. Nothing where fewer than 24
// stars are shared by any frame, or no lens makes it better.
[[nodiscard]] std::optional<CommonLens> common_lens(std::span<const std::vector<StarPlaces>> stars, int width,
                                                    int height);

// One frame through a lens that is known. Nothing where the stars do not determine the map.
struct LensMap {
  math::PlaneMap map;
  double residual_px = 0;
};
[[nodiscard]] std::optional<LensMap> map_through(std::span<const StarPlaces> stars, const math::Bend& lens);

}  // namespace ng::reduce
