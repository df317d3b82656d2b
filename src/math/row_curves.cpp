#include "math/row_curves.h"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/row_curves.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

using D = hn::ScalableTag<float>;
using V = hn::Vec<D>;

HWY_INLINE V cubic_at(const CurvePiece& piece, V t) {
  const D d;
  V v = hn::MulAdd(t, hn::Set(d, piece.cubic[3]), hn::Set(d, piece.cubic[2]));
  v = hn::MulAdd(t, v, hn::Set(d, piece.cubic[1]));
  return hn::MulAdd(t, v, hn::Set(d, piece.cubic[0]));
}

// Calls value(piece, t, place) for whole vectors and rest(piece, t, place, lanes in use) for what is left of a piece.
template <typename Whole, typename Rest>
HWY_INLINE void along(std::span<const CurvePiece> pieces, float scale, int begin, const Whole& whole,
                      const Rest& rest) {
  const D d;
  const int lanes = static_cast<int>(hn::Lanes(d));
  const V steps = hn::ConvertTo(d, hn::Iota(hn::RebindToSigned<D>(), 0));
  const V s = hn::Set(d, scale);
  int x = begin;
  for (const CurvePiece& piece : pieces) {
    const V shift = hn::Set(d, piece.shift);
    const auto t = [&]() HWY_ATTR { return hn::MulAdd(hn::Add(steps, hn::Set(d, static_cast<float>(x))), s, shift); };
    for (; x + lanes <= piece.end; x += lanes) whole(piece, t(), x);
    if (x < piece.end) rest(piece, t(), x, hn::FirstN(d, static_cast<std::size_t>(piece.end - x)));
    x = x < piece.end ? piece.end : x;
  }
}

void fill_cubic_pixels(std::span<const CurvePiece> pieces, float scale, int begin, float* out) {
  const D d;
  along(
      pieces, scale, begin, [&](const CurvePiece& p, V t, int x) HWY_ATTR { hn::StoreU(cubic_at(p, t), d, out + x); },
      [&](const CurvePiece& p, V t, int x, hn::Mask<D> left)
          HWY_ATTR { hn::BlendedStore(cubic_at(p, t), left, d, out + x); });
}

HWY_INLINE V standard(const CurvePiece& p, V t, V value) {
  const D d;
  return hn::Div(hn::Sub(value, cubic_at(p, t)), hn::MulAdd(t, hn::Set(d, p.linear[1]), hn::Set(d, p.linear[0])));
}

void standardise_pixels(std::span<const CurvePiece> pieces, float scale, const float* row, int begin, float* out) {
  const D d;
  along(
      pieces, scale, begin,
      [&](const CurvePiece& p, V t, int x) HWY_ATTR { hn::StoreU(standard(p, t, hn::LoadU(d, row + x)), d, out + x); },
      [&](const CurvePiece& p, V t, int x, hn::Mask<D> left)
          HWY_ATTR { hn::BlendedStore(standard(p, t, hn::MaskedLoad(left, d, row + x)), left, d, out + x); });
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {

HWY_EXPORT(fill_cubic_pixels);
HWY_EXPORT(standardise_pixels);

void fill_cubic(std::span<const CurvePiece> pieces, float scale, int begin, float* out) {
  HWY_DYNAMIC_DISPATCH(fill_cubic_pixels)(pieces, scale, begin, out);
}

void standardise(std::span<const CurvePiece> pieces, float scale, const float* row, int begin, float* out) {
  HWY_DYNAMIC_DISPATCH(standardise_pixels)(pieces, scale, row, begin, out);
}

}  // namespace ng::math
#endif
