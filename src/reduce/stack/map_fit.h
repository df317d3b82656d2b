// reduce/stack/map_fit.h - the map that carries one list of places onto another, by robust least squares.
#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include "math/plane_map.h"

namespace ng::reduce {

// A star in two pictures.
struct MapPair {
  math::Point from, to;
  double sigma = 0;  // expected distance per axis, px
  double weight = 0;
};

enum class MapModel : std::uint8_t { kSimilarity, kAffine, kHomography, kBent };

// Weighted least squares; a bent map is the flat one first, then what it leaves, as a bend of the first picture. With
// skip_fold = 0 to 4 every fifth pair is left out. Nothing where the pairs do not determine it.
[[nodiscard]] std::optional<math::PlaneMap> fit_map(std::span<const MapPair> pairs, MapModel model, bool mirrored,
                                                    int skip_fold = -1);

[[nodiscard]] double distance(const MapPair& p, const math::PlaneMap& map);

// Tukey weights around the map, the scale from the residuals themselves but not below the centroids' errors.
void reweight(std::span<MapPair> pairs, const math::PlaneMap& map);

// The simplest model up to `most` whose five-fold cross-validated residual is not improved by 2 % by the next.
[[nodiscard]] MapModel choose_model(std::span<const MapPair> pairs, bool mirrored, MapModel most);

}  // namespace ng::reduce
