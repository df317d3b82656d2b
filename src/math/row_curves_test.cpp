#include "math/row_curves.h"

#include <gtest/gtest.h>

#include <vector>

namespace ng::math {
namespace {

constexpr float kScale = 1 / 64.0f;
constexpr CurvePiece kFirst{0, -0.75f, {3, -2, 0.5f, 0.25f}, {4, 1.5f}};
constexpr CurvePiece kSecond{0, 0.25f, {1, 0.5f, -1, 2}, {2, -0.5f}};

// Two pieces that meet anywhere: the rest behind the last whole vector is met in all its sizes.
struct Course {
  int begin, middle, end;
  [[nodiscard]] std::vector<CurvePiece> pieces() const {
    std::vector<CurvePiece> both{kFirst, kSecond};
    both[0].end = middle;
    both[1].end = end;
    return both;
  }
  [[nodiscard]] bool inside(int x) const { return x >= begin && x < end; }
  [[nodiscard]] const CurvePiece& piece(int x) const { return x < middle ? kFirst : kSecond; }
  [[nodiscard]] double t(int x) const { return static_cast<double>(piece(x).shift) + x / 64.0; }
  [[nodiscard]] double cubic(int x) const {
    const auto& c = piece(x).cubic;
    return static_cast<double>(c[0]) + t(x) * (c[1] + t(x) * (c[2] + t(x) * c[3]));
  }
  [[nodiscard]] double linear(int x) const {
    return static_cast<double>(piece(x).linear[0]) + t(x) * piece(x).linear[1];
  }
};

std::vector<Course> courses() {
  std::vector<Course> all;
  for (const int begin : {0, 1, 5, 17})
    for (int middle = begin; middle < begin + 36; middle += 5)
      for (int end = middle; end < middle + 34; ++end) all.push_back({begin, middle, end});
  return all;
}

TEST(RowCurves, FollowTheirPiecesAndTouchNothingElse) {
  for (const Course& c : courses()) {
    std::vector<float> out(90, -1);
    fill_cubic(c.pieces(), kScale, c.begin, out.data());
    for (int x = 0; x < 90; ++x) {
      const auto value = static_cast<double>(out[static_cast<std::size_t>(x)]);
      ASSERT_NEAR(value, c.inside(x) ? c.cubic(x) : -1, 2e-6) << x;  // a few roundings of values up to 6
    }
  }
}

TEST(RowCurves, StandardiseInUnitsOfANoiseThatChanges) {
  for (const Course& c : courses()) {
    std::vector<float> row(90), out(90, -1);
    for (int x = 0; x < 90; ++x)
      row[static_cast<std::size_t>(x)] = static_cast<float>(c.cubic(x) + (x - 45) * c.linear(x));
    standardise(c.pieces(), kScale, row.data(), c.begin, out.data());
    for (int x = 0; x < 90; ++x) {
      const auto value = static_cast<double>(out[static_cast<std::size_t>(x)]);
      ASSERT_NEAR(value, c.inside(x) ? x - 45 : -1, 3e-5) << x;  // 45 sigma, after some five roundings of a float
    }
  }
}

}  // namespace
}  // namespace ng::math
