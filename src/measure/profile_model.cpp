#include "measure/profile_model.h"

#include <cassert>

#include "frame/profile.h"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "measure/profile_model.cpp"
// The order matters: what stands below the first is compiled once for each kind of processor.
// clang-format off
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>
#include <hwy/contrib/math/math-inl.h>
// clang-format on

HWY_BEFORE_NAMESPACE();
namespace ng::measure::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

using D = hn::CappedTag<float, 16>;
using V = hn::Vec<D>;

HWY_INLINE V constant(double value) {
  return hn::Set(D(), static_cast<float>(value));
}

// N derivatives, known when compiling: the sums then stay in registers.
template <int N>
void pass(FitPixels& pixels, const ProfileVector& p, double sky_variance, double electrons_per_unit, ProfilePass& out) {
  const D d;
  constexpr double kHalf = 0.28867513459481287;  // 1 / (2 sqrt 3): Gauss-Legendre points of a pixel
  const Profile profile{p[4], p[5], p[6], 1 / p[7]};
  const double det = profile.determinant();
  const double beta = profile.beta;
  const V zero = hn::Zero(d);
  const V one = constant(1.0);
  const V cxx = constant(p[4]), cyy = constant(p[5]), cxy = constant(p[6]), flux = constant(p[2]);
  const V minus_beta = constant(-beta);
  const V height = constant(0.25 * profile.peak());
  const V sky = constant(sky_variance);
  const V photons = constant(electrons_per_unit > 0 ? 1 / electrons_per_unit : 0);

  V a[N * (N + 1) / 2];
  V b[N];
  for (V& sum : a) sum = zero;
  for (V& sum : b) sum = zero;
  V chi2 = zero, chi2_before = zero;
  const int count = pixels.count();
  const int lanes = static_cast<int>(hn::Lanes(d));
  for (int i = 0; i < count; i += lanes) {
    const auto inside = hn::FirstN(d, static_cast<std::size_t>(count - i));
    const V dx = hn::Sub(hn::IfThenElseZero(inside, hn::Load(d, pixels.dx() + i)), constant(p[0]));
    const V dy = hn::Sub(hn::IfThenElseZero(inside, hn::Load(d, pixels.dy() + i)), constant(p[1]));
    V shape = zero, by_x = zero, by_y = zero, by_cxx = zero, by_cyy = zero, by_cxy = zero, by_log = zero;
    for (int k = 0; k < 4; ++k) {
      const V x = hn::Add(dx, constant((k & 1) != 0 ? kHalf : -kHalf));
      const V y = hn::Add(dy, constant((k & 2) != 0 ? kHalf : -kHalf));
      const V along_x = hn::MulAdd(cxx, x, hn::Mul(cxy, y));
      const V along_y = hn::MulAdd(cyy, y, hn::Mul(cxy, x));
      const V u = hn::Add(one, hn::MulAdd(along_x, x, hn::Mul(along_y, y)));
      const V log_u = hn::Log(d, u);
      const V point = hn::Mul(height, hn::Exp(d, hn::Mul(minus_beta, log_u)));
      const V slope = hn::Div(point, u);
      shape = hn::Add(shape, point);
      by_x = hn::MulAdd(slope, along_x, by_x);
      by_y = hn::MulAdd(slope, along_y, by_y);
      if constexpr (N > 4) {
        by_cxx = hn::MulAdd(hn::Mul(slope, x), x, by_cxx);
        by_cyy = hn::MulAdd(hn::Mul(slope, y), y, by_cyy);
        by_cxy = hn::MulAdd(hn::Mul(slope, x), y, by_cxy);
      }
      if constexpr (N > 7) by_log = hn::MulAdd(point, log_u, by_log);
    }
    const V scale = hn::Mul(flux, constant(beta));
    const V light = hn::Mul(flux, shape);
    V g[N];
    g[0] = hn::Mul(hn::Mul(scale, constant(2.0)), by_x);
    g[1] = hn::Mul(hn::Mul(scale, constant(2.0)), by_y);
    g[2] = shape;
    g[3] = one;
    if constexpr (N > 4) {  // the height of a normalised profile follows its width
      g[4] = hn::NegMulAdd(scale, by_cxx, hn::Mul(light, constant(p[5] / (2 * det))));
      g[5] = hn::NegMulAdd(scale, by_cyy, hn::Mul(light, constant(p[4] / (2 * det))));
      g[6] = hn::NegMulAdd(hn::Add(scale, scale), by_cxy, hn::Mul(light, constant(-p[6] / det)));
    }
    if constexpr (N > 7) {
      const V by_height = hn::Mul(light, constant(beta * beta / (beta - 1)));
      g[7] = hn::MulSub(hn::Mul(flux, constant(beta * beta)), by_log, by_height);
    }

    const V variance = hn::MulAdd(hn::Max(light, zero), photons, sky);
    const V weight = hn::IfThenElseZero(inside, hn::Div(one, variance));
    const V before = hn::IfThenElseZero(inside, hn::Load(d, pixels.weight_before() + i));
    hn::Store(weight, d, pixels.weight() + i);
    const V measured = hn::IfThenElseZero(inside, hn::Load(d, pixels.value() + i));
    const V residual = hn::Sub(hn::Sub(measured, light), constant(p[3]));
    const V square = hn::Mul(residual, residual);
    chi2 = hn::MulAdd(weight, square, chi2);
    chi2_before = hn::MulAdd(before, square, chi2_before);
    std::size_t k = 0;
    for (std::size_t row = 0; row < N; ++row) {
      const V weighted = hn::Mul(weight, g[row]);
      b[row] = hn::MulAdd(weighted, residual, b[row]);
      for (std::size_t column = 0; column <= row; ++column, ++k) a[k] = hn::MulAdd(weighted, g[column], a[k]);
    }
  }
  const auto sum = [&](V v) { return static_cast<double>(hn::GetLane(hn::SumOfLanes(d, v))); };
  out.chi2 = sum(chi2);
  out.chi2_before = sum(chi2_before);
  std::size_t k = 0;
  for (std::size_t row = 0; row < N; ++row) {
    out.b[row] = sum(b[row]);
    for (std::size_t column = 0; column <= row; ++column, ++k) out.a[row][column] = sum(a[k]);
  }
}

void profile_pass(FitPixels& pixels, const ProfileVector& p, int n, double sky_variance, double electrons_per_unit,
                  ProfilePass& out) {
  if (n == 4) {
    pass<4>(pixels, p, sky_variance, electrons_per_unit, out);
  } else if (n == 7) {
    pass<7>(pixels, p, sky_variance, electrons_per_unit, out);
  } else {
    pass<8>(pixels, p, sky_variance, electrons_per_unit, out);
  }
}

}  // namespace ng::measure::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::measure {

HWY_EXPORT(profile_pass);

ProfilePass profile_pass(FitPixels& pixels, const ProfileVector& p, int n, double sky_variance,
                         double electrons_per_unit) {
  assert(n == 4 || n == 7 || n == 8);
  ProfilePass out;
  HWY_DYNAMIC_DISPATCH(profile_pass)(pixels, p, n, sky_variance, electrons_per_unit, out);
  return out;
}

}  // namespace ng::measure
#endif
