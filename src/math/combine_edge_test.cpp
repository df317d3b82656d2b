// Columns whose values lie close to the limits, where it matters that one pass foresees the other two rightly.
#include <gtest/gtest.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <vector>

#include "base/image.h"
#include "math/combine.h"
#include "math/combine_slow.h"
#include "math/random.h"

namespace ng::math {
namespace {

constexpr int kColumns = 4000;
constexpr CombineOptions kOptions{.kappa = 4, .slope_allowance = 0.3f, .near_share = 0.6f};

bool bit(const HitWord* row, int x) {
  return ((row[x / kHitPixels] >> (x % kHitPixels)) & 1) != 0;
}

void set_bit(HitWord* row, int x) {
  row[x / kHitPixels] = static_cast<HitWord>(row[x / kHitPixels] | 1 << (x % kHitPixels));
}

// Columns of n values. In one of two halves nearly every column, in the other one in thirty, has some value within a
// quarter of one of the limits around the median; weights differ by up to e^2, so that the mean often lies far from it.
class Night {
 public:
  Night(int n, double missing, bool fades, std::uint64_t stream)
      : values(kColumns + kRowPadding, n, 1, 0.0f),
        variance(kColumns + kRowPadding, n, 1, 0.0f),
        fade(kColumns + kRowPadding, n, 1, 0.0f),
        near(words(kColumns), n, 1, HitWord{0}),
        median(kColumns + kRowPadding, 1, 1, 0.0f),
        sky(kColumns + kRowPadding, 1, 1, 0.0f),
        slope(kColumns + kRowPadding, 1, 1, 0.0f) {
    Random random(21, stream);
    for (int j = 0; j < n; ++j) {
      coverage_of.push_back(30 + static_cast<float>(j));
      inputs.push_back({values.plane().row(j), variance.plane().row(j), static_cast<float>(0.02 * random.uniform()),
                        static_cast<float>(std::exp(2 * random.uniform())), fades ? fade.plane().row(j) : nullptr});
    }
    for (int x = 0; x < kColumns; ++x) {
      sky.plane()(x, 0) = static_cast<float>(90 + 20 * random.uniform());
      slope.plane()(x, 0) = random.uniform() < 0.5 ? 0.0f : static_cast<float>(4 * random.uniform());
      for (int j = 0; j < n; ++j) {
        variance.plane()(x, j) = static_cast<float>(0.6 + random.uniform());
        fade.plane()(x, j) = static_cast<float>(std::max(0.0, 1.2 * random.uniform() - 0.2));
        if (random.uniform() < 0.1) set_bit(near.plane().row(j), x);
        values.plane()(x, j) =
            static_cast<float>(100 + std::sqrt(static_cast<double>(variance.plane()(x, j))) * random.normal());
        if (random.uniform() < missing) values.plane()(x, j) = std::numeric_limits<float>::quiet_NaN();
      }
      const bool calm = x < kColumns / 2 && random.uniform() < 0.97;
      for (int pulled = 0; pulled < (calm ? 0 : 1 + x % 3); ++pulled) {
        const int j = static_cast<int>(random.bits() % static_cast<unsigned>(n));
        const double allowed = static_cast<double>(variance.plane()(x, j)) +
                               std::pow(static_cast<double>(kOptions.slope_allowance * slope.plane()(x, 0)), 2);
        const double share = x % 5 == 0 ? static_cast<double>(kOptions.near_share) : 1;
        const double off = share * kOptions.kappa * std::sqrt(allowed) * (0.75 + 0.5 * random.uniform());
        values.plane()(x, j) = static_cast<float>(100 + (x % 2 == 0 ? off : -off));
      }
    }
    std::vector<const float*> rows;
    for (const CombineInput& in : inputs) rows.push_back(in.values);
    median_rows(rows, kColumns, median.plane().row(0));
  }

  static int words(int columns) { return (columns + kHitPixels - 1) / kHitPixels; }

  // Calls that begin anywhere read on to a multiple of the padding: the rows are that much longer than the columns.
  Image<float> values, variance, fade;
  Image<HitWord> near;
  Image<float> median, sky, slope;
  std::vector<CombineInput> inputs;
  std::vector<float> coverage_of;
};

struct Result {
  explicit Result(int n) : rows(kColumns, 4), hits(Night::words(kColumns), n, 1, HitWord{0}) {}
  Image<float> rows;  // mean, variance, coverage, rejected
  Image<HitWord> hits;
};

// In calls of `step` columns each; `near` as well: once more around those hits.
Result combine(const Night& night, int step, bool near) {
  const int n = static_cast<int>(night.inputs.size());
  Result result(n);
  for (int x0 = 0; x0 < kColumns; x0 += step) {
    const int width = std::min(step, kColumns - x0);
    // Calls that do not begin at a word: their bits are moved there.
    Image<HitWord> hits(Night::words(width), n, 1, HitWord{0}), around(Night::words(width), n, 1, HitWord{0});
    // Rows may be written up to the next multiple of the padding.
    Image<float> out(width, 4);
    std::vector<CombineInput> inputs = night.inputs;
    std::vector<HitWord*> hit_rows;
    std::vector<const HitWord*> near_rows;
    for (int j = 0; j < n; ++j) {
      CombineInput& in = inputs[static_cast<std::size_t>(j)];
      in.values += x0;
      in.variance += x0;
      if (in.fade != nullptr) in.fade += x0;
      hit_rows.push_back(hits.plane().row(j));
      near_rows.push_back(around.plane().row(j));
      for (int x = 0; x < width; ++x)
        if (bit(night.near.plane().row(j), x0 + x)) set_bit(around.plane().row(j), x);
    }
    const CombineOutput output{out.plane().row(0), out.plane().row(1), out.plane().row(2), out.plane().row(3),
                               hit_rows};
    const float* median = night.median.plane().row(0) + x0;
    const float* sky = night.sky.plane().row(0) + x0;
    const float* slope = night.slope.plane().row(0) + x0;
    combine_rows(inputs, night.coverage_of, median, sky, slope, width, kOptions, output);
    if (near) regrow_rows(inputs, night.coverage_of, median, sky, slope, width, kOptions, near_rows, output);
    for (int x = 0; x < width; ++x) {
      for (int k = 0; k < 4; ++k) result.rows.plane()(x0 + x, k) = out.plane()(x, k);
      for (int j = 0; j < n; ++j)
        if (bit(hits.plane().row(j), x)) set_bit(result.hits.plane().row(j), x0 + x);
    }
  }
  return result;
}

void expect_like_twin(const Night& night, bool near) {
  const Result got = combine(night, kColumns, near);
  const auto rows = got.rows.plane();
  for (int x = 0; x < kColumns; ++x) {
    std::vector<bool> near_here;
    for (std::size_t j = 0; j < night.inputs.size(); ++j)
      near_here.push_back(near && bit(night.near.plane().row(static_cast<int>(j)), x));
    const auto p = slow::combine(night.inputs, night.coverage_of, x, night.median.plane()(x, 0),
                                 night.sky.plane()(x, 0), night.slope.plane()(x, 0), kOptions, near_here);
    EXPECT_EQ(std::isnan(rows(x, 0)), std::isnan(p.mean)) << x;
    EXPECT_EQ(std::isnan(rows(x, 1)), std::isnan(p.mean)) << x;
    if (!std::isnan(p.mean)) {
      // Roundings of some sixteen float operations: 6e-8 each of the value.
      EXPECT_NEAR(rows(x, 0), p.mean, 1e-6 * p.mean) << x;
      EXPECT_NEAR(rows(x, 1), p.variance, 3e-6 * p.variance) << x;
    }
    EXPECT_NEAR(rows(x, 2), p.coverage, 1e-6 * p.coverage) << x;
    EXPECT_EQ(static_cast<int>(rows(x, 3)), p.rejected) << x;
    for (std::size_t j = 0; j < night.inputs.size(); ++j)
      EXPECT_EQ(bit(got.hits.plane().row(static_cast<int>(j)), x), p.hit[j]) << x << " " << j;
  }
}

TEST(CombineEdge, MatchesItsSlowTwinCloseToTheLimits) {
  std::uint64_t stream = 0;
  for (const int n : {1, 2, 3, 4, 7, 16, 33})
    for (const double missing : {0.0, 0.3})
      for (const bool fades : {false, true})
        for (const bool near : {false, true}) {
          SCOPED_TRACE(testing::Message() << n << " values, missing " << missing << ", fades " << fades << " " << near);
          expect_like_twin(Night(n, missing, fades, ++stream), near);
        }
}

// A column's result does not depend on its neighbours, nor on where its call begins.
TEST(CombineEdge, SameBitsHoweverTheColumnsAreGrouped) {
  std::uint64_t stream = 100;
  for (const int n : {2, 3, 16})
    for (const bool fades : {false, true})
      for (const bool near : {false, true}) {
        const Night night(n, 0.1, fades, ++stream);
        const Result whole = combine(night, kColumns, near);
        for (const int step : {1, 7, 16, 27, 500}) {
          const Result cut = combine(night, step, near);
          for (int x = 0; x < kColumns; ++x) {
            for (int k = 0; k < 4; ++k)
              ASSERT_EQ(std::bit_cast<std::uint32_t>(cut.rows.plane()(x, k)),
                        std::bit_cast<std::uint32_t>(whole.rows.plane()(x, k)))
                  << n << " values, fades " << fades << ", near " << near << ", step " << step << ": " << x << " " << k;
            for (int j = 0; j < n; ++j)
              ASSERT_EQ(bit(cut.hits.plane().row(j), x), bit(whole.hits.plane().row(j), x)) << step << ": " << x;
          }
        }
      }
}

}  // namespace
}  // namespace ng::math
