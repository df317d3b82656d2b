#include "reduce/single/demosaic_noise.h"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "base/image.h"
#include "math/lanczos.h"

namespace ng::reduce {
namespace {

double sinc(double t) {
  return t == 0 ? 1 : std::sin(3.14159265358979 * t) / (3.14159265358979 * t);
}
double lanczos3(double t) {
  return std::fabs(t) < 3 ? sinc(t) * sinc(t / 3) : 0;
}

// The same worked out: where no direction stands out, demosaicing is linear, and the variance of a value is the sum of
// squares of the responses to single pixels. Responses are differences of two frames of the same large noise, so that
// the decisions are those of noise. 0.02: four standard errors of a scatter from 90000 values, a few of which are
// alike.
std::array<double, 3> by_responses(BayerPattern pattern, const ColourBalance& balance,
                                   const std::array<double, 3>& noise) {
  constexpr int kSide = 48, kPhases = 3, kFirst = 11, kSpan = 25;
  std::array<double, 3> ratio{};
  const auto demosaiced = [&](const Image<float>& mosaic) {
    Image<float> out(kSide, kSide, 3);
    EXPECT_TRUE(demosaic_menon(mosaic.plane(), pattern, balance, out.plane(0), out.plane(1), out.plane(2), {}).ok());
    return out;
  };
  // Equal changes along rows and columns: no direction is ever 24 times quieter.
  Image<float> rough(kSide, kSide);
  for (int y = 0; y < kSide; ++y)
    for (int x = 0; x < kSide; ++x) rough.plane()(x, y) = static_cast<float>(4000 * ((x / 2 + y / 2) % 2));
  const Image<float> without = demosaiced(rough);
  std::vector<Image<float>> responses;  // to each pixel that may reach the values that are looked at
  for (int i = 0; i < kSpan * kSpan; ++i) {
    Image<float> poked = rough.clone();
    poked.plane()(kFirst + i % kSpan, kFirst + i / kSpan) += 64;
    responses.push_back(demosaiced(poked));
  }
  for (int p = 0; p < 3; ++p) {
    double got = 0, independent = 0;
    for (int k = 0; k < kPhases * kPhases; ++k) {
      const double fx = (k % kPhases + 0.5) / kPhases, fy = (k / kPhases + 0.5) / kPhases;
      double norm = 0, squares = 0;
      for (int y = -2; y <= 3; ++y)
        for (int x = -2; x <= 3; ++x) {
          const double w = lanczos3(x - fx) * lanczos3(y - fy);
          norm += w;
          squares += w * w;
        }
      independent += 4 * squares / (norm * norm) * std::pow(noise[static_cast<std::size_t>(p)], 2);
      // Over the four sites of a cell from which the value may be looked at, and over all pixels that reach it.
      for (int site = 0; site < 4; ++site) {
        const int cx = 22 + (site & 1), cy = 22 + (site >> 1);
        for (int y = cy - 11; y <= cy + 12; ++y) {
          for (int x = cx - 11; x <= cx + 12; ++x) {
            const Image<float>& response = responses[static_cast<std::size_t>((y - kFirst) * kSpan + x - kFirst)];
            double sum = 0;
            for (int v = -2; v <= 3; ++v)
              for (int u = -2; u <= 3; ++u)
                sum += lanczos3(u - fx) * lanczos3(v - fy) / norm / 64 *
                       (response.plane(p)(cx + u, cy + v) - without.plane(p)(cx + u, cy + v));
            got += std::pow(sum * noise[static_cast<std::size_t>(bayer_plane(pattern, x, y))], 2);
          }
        }
      }
    }
    ratio[static_cast<std::size_t>(p)] = got / independent;
  }
  return ratio;
}

TEST(DemosaicNoise, IsWhatTheResponsesToSinglePixelsGive) {
  for (const ColourBalance& balance : {ColourBalance{1, 1}, ColourBalance{1.4f, 2}}) {
    const std::array<double, 3> noise = {8.4, 10, 7};
    const auto got = demosaic_noise(BayerPattern::kRggb, balance, noise);
    const auto expected = by_responses(BayerPattern::kRggb, balance, noise);
    for (std::size_t p = 0; p < 3; ++p)
      EXPECT_NEAR(got[p] / expected[p], 1, 0.02) << p << ": " << got[p] << " " << expected[p];
  }
}

}  // namespace
}  // namespace ng::reduce
