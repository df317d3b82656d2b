#include "reduce/single/demosaic_noise.h"

#include <cmath>

#include "base/image.h"
#include "math/random.h"
#include "math/resample.h"

namespace ng::reduce {
namespace {

constexpr int kSide = 320;
// Places between pixels: three along each axis, each once.
constexpr std::array kPlaces = {1.0 / 6, 0.5, 5.0 / 6};

}  // namespace

std::array<double, 3> demosaic_noise(BayerPattern pattern, const ColourBalance& balance,
                                     const std::array<double, 3>& noise) {
  Image<float> mosaic(kSide, kSide);
  math::Random random(1, 0);
  for (int y = 0; y < kSide; ++y)
    for (int x = 0; x < kSide; ++x)
      mosaic.plane()(x, y) =
          static_cast<float>(noise[static_cast<std::size_t>(bayer_plane(pattern, x, y))] * random.normal());
  Image<float> colours(kSide, kSide, 3);
  const auto done =
      demosaic_menon(mosaic.plane(), pattern, balance, colours.plane(0), colours.plane(1), colours.plane(2), Context{});
  std::array<double, 3> ratio = {1, 1, 1};
  if (!done.ok()) return ratio;

  const math::LanczosPolynomials lanczos;
  Image<float> values(kSide, kSide), squares(kSide, kSide);
  for (std::size_t p = 0; p < 3; ++p) {
    double got = 0, independent = 0;
    for (std::size_t k = 0; k < kPlaces.size(); ++k) {
      const double dx = kPlaces[k], dy = kPlaces[(k + 1) % kPlaces.size()];
      math::ResampleOptions options;
      options.guard = static_cast<float>(1e6 * noise[p]);  // noise has no rims to be flattened
      math::resample_rows({colours.plane(static_cast<int>(p)), {}, 0}, math::PlaneMap(math::Affine{1, 0, dx, 0, 1, dy}),
                          0, values.plane(), squares.plane(), options, lanczos);
      for (int y = kDemosaicMargin; y < kSide - kDemosaicMargin; ++y) {
        for (int x = kDemosaicMargin; x < kSide - kDemosaicMargin; ++x) {
          got += std::pow(static_cast<double>(values.plane()(x, y)), 2);
          independent += static_cast<double>(squares.plane()(x, y)) * noise[p] * noise[p];
        }
      }
    }
    if (got > 0 && independent > 0) ratio[p] = got / independent;
  }
  return ratio;
}

}  // namespace ng::reduce
