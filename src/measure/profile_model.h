// measure/profile_model.h - one pass over the pixels of a star: model, residuals, normal equations.
//
// Parameters, in order: x, y, flux, background, cxx, cyy, cxy, 1 / beta (0 is a Gaussian: no wall to run into). Model
// of a pixel: background + flux x the mean of the Moffat profile over the pixel (frame/profile.h). Several pixels are
// worked on at once, in single precision: its rounding lies below a thousandth of the noise of any pixel that is not
// saturated. profile_model_slow.h says the same plainly, for the tests.
#pragma once

#include <array>

#include "base/image.h"

namespace ng::measure {

inline constexpr int kProfileParameters = 8;
using ProfileVector = std::array<double, kProfileParameters>;

// Pixels of one star, as rows of equal length: place from the centre of the box, value, weights of this pass and of the
// one before.
class FitPixels {
 public:
  explicit FitPixels(int capacity) : rows_(padded(capacity + 1), kRows) {}

  struct Candidate {
    float dx, value;
    bool usable;
  };
  // The usable ones among candidate(0) ... candidate(n - 1). Without a branch for each: what comes after one that is
  // not is written over it.
  template <typename Make>
  void add_row(float dy, int n, const Make& candidate) {
    float *to_dx = dx(), *to_dy = this->dy(), *to_value = value();
    int end = count_;
    for (int i = 0; i < n; ++i) {
      const Candidate c = candidate(i);
      to_dx[end] = c.dx;
      to_dy[end] = dy;
      to_value[end] = c.value;
      end += static_cast<int>(c.usable);
    }
    count_ = end;
  }
  [[nodiscard]] int count() const { return count_; }
  // Of the row, up to the next whole vector; what lies beyond count() is set by the pass and counts nothing.
  [[nodiscard]] static int padded(int count) { return (count + kVector - 1) / kVector * kVector; }
  [[nodiscard]] float* dx() { return rows_.plane().row(kDx); }
  [[nodiscard]] float* dy() { return rows_.plane().row(kDy); }
  [[nodiscard]] float* value() { return rows_.plane().row(kValue); }
  [[nodiscard]] float* weight() { return rows_.plane().row(new_weight_); }
  [[nodiscard]] float* weight_before() { return rows_.plane().row(kWeightA + kWeightB - new_weight_); }
  // The weights of the last pass become those to be kept.
  void keep_weights() { new_weight_ = kWeightA + kWeightB - new_weight_; }

 private:
  enum { kDx, kDy, kValue, kWeightA, kWeightB, kRows };
  static constexpr int kVector = 16;
  Image<float> rows_;
  int count_ = 0;
  int new_weight_ = kWeightA;
};

struct ProfilePass {
  // Of the least squares problem with the weights of this pass; lower triangle.
  std::array<std::array<double, kProfileParameters>, kProfileParameters> a{};
  ProfileVector b{};
  double chi2 = 0;
  double chi2_before = 0;  // the same residuals with the weights kept before; meaningless in the first pass
};

// Derivatives by the first n parameters: 4, 7 or 8. Weight of a pixel: 1 / (sky_variance + model light /
// electrons_per_unit); electrons_per_unit 0 = without photon noise of the star.
[[nodiscard]] ProfilePass profile_pass(FitPixels& pixels, const ProfileVector& p, int n, double sky_variance,
                                       double electrons_per_unit);

}  // namespace ng::measure
