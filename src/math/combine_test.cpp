#include "math/combine.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "base/image.h"
#include "math/combine_slow.h"
#include "math/random.h"

namespace ng::math {
namespace {

constexpr float kNan = std::numeric_limits<float>::quiet_NaN();

// Rows of normal noise with some values missing and some wild.
Image<float> make_rows(int n, int width, std::uint64_t stream, double missing, double wild) {
  Image<float> image(width, n);
  Random random(11, stream);
  for (int j = 0; j < n; ++j) {
    for (int x = 0; x < width; ++x) {
      float v = static_cast<float>(100 + random.normal());
      if (random.uniform() < wild) v += 80;
      if (random.uniform() < missing) v = kNan;
      image.plane()(x, j) = v;
    }
  }
  return image;
}

std::vector<const float*> pointers(const Image<float>& image) {
  std::vector<const float*> rows;
  for (int j = 0; j < image.height(); ++j) rows.push_back(image.plane().row(j));
  return rows;
}

std::vector<float> column(const Image<float>& image, int x) {
  std::vector<float> v;
  for (int j = 0; j < image.height(); ++j) v.push_back(image.plane().row(j)[x]);
  return v;
}

TEST(Combine, MedianMatchesSortingForEveryCount) {
  for (int n = 1; n <= 40; ++n) {
    for (const int width : {1, 5, 16, 37}) {
      const auto rows = make_rows(n, width, static_cast<std::uint64_t>(n), n > 1 ? 0.2 : 0.5, 0.1);
      Image<float> out(width, 1);
      median_rows(pointers(rows), width, out.plane().row(0));
      for (int x = 0; x < width; ++x) {
        const float expected = slow::median(column(rows, x));
        const float got = out.plane()(x, 0);
        if (std::isnan(expected)) {
          EXPECT_TRUE(std::isnan(got)) << n << " " << x;
        } else {
          EXPECT_FLOAT_EQ(got, expected) << n << " " << x;
        }
      }
    }
  }
}

TEST(Combine, MatchesItsSlowTwin) {
  for (const int n : {1, 2, 3, 5, 16, 33}) {
    const int width = 53;
    const auto rows = make_rows(n, width, 100 + static_cast<std::uint64_t>(n), 0.1, 0.05);
    Image<float> variances(width, n);
    Random random(12, static_cast<std::uint64_t>(n));
    for (int j = 0; j < n; ++j)
      for (int x = 0; x < width; ++x) variances.plane()(x, j) = static_cast<float>(0.6 + random.uniform());
    std::vector<CombineInput> inputs;
    std::vector<float> coverage_of;
    for (int j = 0; j < n; ++j) {
      inputs.push_back({rows.plane().row(j), variances.plane().row(j), 0.05f, 1 / (1 + 0.05f * static_cast<float>(j))});
      coverage_of.push_back(30 + static_cast<float>(j));
    }
    Image<float> work(width, 7, 1, 0.5f);
    const auto w = work.plane();
    std::fill_n(w.row(6), width, 95.0f);
    median_rows(pointers(rows), width, w.row(0));
    const CombineOptions options{.kappa = 4, .slope_allowance = 0.2f};
    const CombineCounts counts = combine_rows(inputs, coverage_of, w.row(0), w.row(6), w.row(1), width, options,
                                              {w.row(2), w.row(3), w.row(4), w.row(5)});
    int valid = 0, rejected = 0;
    for (int x = 0; x < width; ++x) {
      for (const auto& in : inputs) valid += static_cast<int>(!std::isnan(in.values[x]));
      rejected += static_cast<int>(w(x, 5));
    }
    EXPECT_EQ(counts.values, valid);
    EXPECT_EQ(counts.rejected, rejected);
    for (int x = 0; x < width; ++x) {
      const auto p = slow::combine(inputs, coverage_of, x, w(x, 0), w(x, 6), w(x, 1), options);
      if (std::isnan(p.mean)) {
        EXPECT_TRUE(std::isnan(w(x, 2)) && std::isnan(w(x, 3)));
        continue;
      }
      EXPECT_NEAR(w(x, 2), p.mean, 1e-5 * p.mean);
      EXPECT_NEAR(w(x, 3), p.variance, 1e-5 * p.variance);
      EXPECT_NEAR(w(x, 4), p.coverage, 1e-3);
      EXPECT_EQ(static_cast<int>(w(x, 5)), p.rejected);
    }
  }
}

bool bit(const HitWord* row, int x) {
  return ((row[x / kHitPixels] >> (x % kHitPixels)) & 1) != 0;
}

// Dilation by 3 x 3, bit by bit.
TEST(Combine, HitsReachTheirEightNeighbours) {
  Random random(13, 1);
  for (const int words : {1, 2, 5}) {
    const int width = words * kHitPixels;
    std::vector<std::vector<HitWord>> rows(3, std::vector<HitWord>(static_cast<std::size_t>(words)));
    for (auto& row : rows)
      for (int x = 0; x < width; ++x)
        if (random.uniform() < 0.05)
          row[static_cast<std::size_t>(x / kHitPixels)] |= static_cast<HitWord>(1 << (x % kHitPixels));
    for (const bool border : {false, true}) {
      std::vector<HitWord> near(static_cast<std::size_t>(words));
      const bool any = near_hits(border ? nullptr : rows[0].data(), rows[1].data(), rows[2].data(), words, near.data());
      bool expected_any = false;
      for (int x = 0; x < width; ++x) {
        bool expected = false;
        for (int dx = -1; dx <= 1; ++dx) {
          if (x + dx < 0 || x + dx >= width) continue;
          for (std::size_t k = border ? 1 : 0; k < 3; ++k) expected = expected || bit(rows[k].data(), x + dx);
        }
        EXPECT_EQ(bit(near.data(), x), expected) << words << " " << x;
        expected_any = expected_any || expected;
      }
      EXPECT_EQ(any, expected_any);
    }
  }
}

TEST(Combine, MarksWhatItLeavesOutAndRegrowsLikeItsSlowTwin) {
  const int width = 75;
  const int n = 9;
  const int words = (width + kHitPixels - 1) / kHitPixels;
  const auto rows = make_rows(n, width, 77, 0.1, 0.02);
  const Image<float> variance(width, n, 1, 1.0f);
  std::vector<CombineInput> inputs;
  for (int j = 0; j < n; ++j) inputs.push_back({rows.plane().row(j), variance.plane().row(j), 0.01f, 1});
  const std::vector<float> ones(n, 1.0f);
  Image<float> work(width, 7, 1, 0.0f);
  const auto w = work.plane();
  Image<HitWord> hits(words, n), near(words, n);
  std::vector<HitWord*> hit_rows;
  std::vector<const HitWord*> near_rows;
  for (int j = 0; j < n; ++j) hit_rows.push_back(hits.plane().row(j));
  median_rows(pointers(rows), width, w.row(0));
  const CombineOptions options{.kappa = 4, .near_share = 0.3f};  // so low that neighbours are often hit
  const CombineOutput out{w.row(2), w.row(3), w.row(4), w.row(5), hit_rows};
  const CombineCounts counts = combine_rows(inputs, ones, w.row(0), w.row(6), w.row(1), width, options, out);
  const auto expect_like_twin = [&](bool grown) {
    int rejected = 0;
    for (int x = 0; x < width; ++x) {
      std::vector<bool> near_here;
      for (int j = 0; j < n; ++j) near_here.push_back(grown && bit(near.plane().row(j), x));
      const auto p = slow::combine(inputs, ones, x, w(x, 0), 0, 0, options, near_here);
      EXPECT_NEAR(w(x, 2), p.mean, 1e-5 * p.mean) << x;
      EXPECT_EQ(static_cast<int>(w(x, 5)), p.rejected) << x;
      for (int j = 0; j < n; ++j)
        EXPECT_EQ(bit(hits.plane().row(j), x), p.hit[static_cast<std::size_t>(j)]) << x << " " << j;
      rejected += p.rejected;
    }
    return rejected;
  };
  const int first = expect_like_twin(false);
  EXPECT_EQ(counts.rejected, first);
  for (int j = 0; j < n; ++j) {
    near_hits(nullptr, hit_rows[static_cast<std::size_t>(j)], nullptr, words, near.plane().row(j));
    near_rows.push_back(near.plane().row(j));
  }
  const double more = regrow_rows(inputs, ones, w.row(0), w.row(6), w.row(1), width, options, near_rows, out);
  EXPECT_GT(more, 0);
  EXPECT_EQ(expect_like_twin(true), first + more);
}

// Rejection at 4.5 sigma costs next to nothing on clean data (asymptotic efficiency at 4 sigma: 0.9989), and an outlier
// of 80 sigma leaves no trace.
TEST(Combine, CleanDataKeepTheirNoiseAndOutliersVanish) {
  const int n = 16;
  const int width = 40000;
  for (const double wild : {0.0, 0.03}) {
    const auto rows = make_rows(n, width, 5, 0, wild);
    const Image<float> unit(width, 1, 1, 1.0f);
    std::vector<CombineInput> inputs;
    for (int j = 0; j < n; ++j) inputs.push_back({rows.plane().row(j), unit.plane().row(0), 0});
    const std::vector<float> ones(n, 1.0f);
    Image<float> work(width, 7, 1, 0.0f);
    const auto w = work.plane();
    median_rows(pointers(rows), width, w.row(0));
    const CombineCounts counts =
        combine_rows(inputs, ones, w.row(0), w.row(6), w.row(1), width, {}, {w.row(2), w.row(3), w.row(4), w.row(5)});
    double sum2 = 0;
    double kept = 0;
    for (int x = 0; x < width; ++x) {
      sum2 += std::pow(w(x, 2) - 100, 2);
      kept += w(x, 4);
    }
    const double ideal = static_cast<double>(width) / kept;  // variance of a mean of the kept ones
    EXPECT_NEAR(sum2 / width, ideal, 0.03 * ideal) << wild;  // 4 standard errors of a variance: 0.028
    EXPECT_NEAR(kept / (n * width), 1 - wild, 0.001) << wild;
    EXPECT_EQ(counts.values - counts.rejected, kept);
  }
}

// Efficiency of a clipped mean at 2.5 and 3 sigma with the true scale: 0.8999 and 0.9707 (skipped-mean influence
// function). One clipping around the median of 31 values is a one-step version of it; the figure itself is measured
// from 40000 columns to 0.7 % (standard error of a variance). 0.03 covers both.
TEST(Combine, ClippedMeanEfficiency) {
  const int n = 31;
  const int width = 40000;
  const auto rows = make_rows(n, width, 6, 0, 0);
  for (const auto& [kappa, efficiency] : {std::pair{2.5f, 0.8999391668806049}, std::pair{3.0f, 0.9707091134651118}}) {
    Image<float> mean(width, 1);
    clipped_mean_rows(pointers(rows), width, kappa, 1.0f, mean.plane().row(0));
    double sum2 = 0;
    for (int x = 0; x < width; ++x) sum2 += std::pow(mean.plane()(x, 0) - 100, 2);
    EXPECT_NEAR(1.0 / (n * sum2 / width), efficiency, 0.03) << kappa;
  }
}

TEST(Combine, AClippedMeanDropsOneCosmicRayInThree) {
  Image<float> rows(1, 3);
  rows.plane()(0, 0) = 10;
  rows.plane()(0, 1) = 900;
  rows.plane()(0, 2) = 11;
  Image<float> mean(1, 1);
  clipped_mean_rows(pointers(rows), 1, 4, 2, mean.plane().row(0));
  EXPECT_FLOAT_EQ(mean.plane()(0, 0), 10.5f);
}

}  // namespace
}  // namespace ng::math
