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
