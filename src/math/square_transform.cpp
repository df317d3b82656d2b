#include "math/square_transform.h"

#include <fftw3.h>

#include <array>
#include <cassert>
#include <mutex>

namespace ng::math {
namespace {

// FFTW makes and drops plans in tables of its own: one thread at a time.
std::mutex& planner() {
  static std::mutex mutex;
  return mutex;
}

fftwf_complex* fftw(std::complex<float>* p) {
  return reinterpret_cast<fftwf_complex*>(p);
}

}  // namespace

struct SquareTransform::Plans {
  fftwf_plan forward = nullptr, inverse = nullptr;
};

SquareTransform::SquareTransform(int side) : side_(side), plans_(std::make_unique<Plans>()) {
  assert(side > 0 && side % 16 == 0);
  Image<float> real = tile();
  Spectrum half = spectrum();
  const std::array<int, 2> n{side, side};
  const std::array<int, 2> real_size{side, static_cast<int>(real.plane().stride)};
  const std::array<int, 2> half_size{side, static_cast<int>(half.plane().stride)};
  const std::lock_guard lock(planner());
  plans_->forward =
      fftwf_plan_many_dft_r2c(2, n.data(), 1, real.plane().data, real_size.data(), 1, 0, fftw(half.plane().data),
                              half_size.data(), 1, 0, FFTW_ESTIMATE | FFTW_PRESERVE_INPUT);
  plans_->inverse = fftwf_plan_many_dft_c2r(2, n.data(), 1, fftw(half.plane().data), half_size.data(), 1, 0,
                                            real.plane().data, real_size.data(), 1, 0, FFTW_ESTIMATE);
}

SquareTransform::~SquareTransform() {
  const std::lock_guard lock(planner());
  fftwf_destroy_plan(plans_->forward);
  fftwf_destroy_plan(plans_->inverse);
}

void SquareTransform::forward(const Image<float>& tile, Spectrum& out) const {
  assert(tile.width() == side_ && out.height() == side_);
  // FFTW's interface knows no const; FFTW_PRESERVE_INPUT keeps the promise.
  fftwf_execute_dft_r2c(plans_->forward, const_cast<float*>(tile.plane().data), fftw(out.plane().data));
}

void SquareTransform::inverse(Spectrum& spectrum, Image<float>& out) const {
  assert(out.width() == side_ && spectrum.height() == side_);
  fftwf_execute_dft_c2r(plans_->inverse, fftw(spectrum.plane().data), out.plane().data);
  const float factor = 1 / (static_cast<float>(side_) * static_cast<float>(side_));
  for (int y = 0; y < side_; ++y)
    for (int x = 0; x < side_; ++x) out.plane().row(y)[x] *= factor;
}

}  // namespace ng::math
