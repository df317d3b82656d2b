#include "reduce/stack/centre_rows.h"

#include <algorithm>
#include <cmath>

#include "base/parallel.h"
#include "frame/background_map.h"
#include "reduce/stack/mesh_on_master.h"
#include "reduce/stack/slope.h"

namespace ng::reduce {
namespace {

// The same rows in taller memory.
template <typename T>
void grow(Image<T>& image, int width, int height, int planes, int rows) {
  Image<T> taller(width, height, planes);
  for (int p = 0; p < planes && rows > 0; ++p)
    for (int y = 0; y < rows; ++y) std::copy_n(image.plane(p).row(y), width, taller.plane(p).row(y));
  image = std::move(taller);
}

template <typename T>
void move_up(Image<T>& image, int by, int rows) {
  for (int p = 0; p < image.planes(); ++p)
    for (int y = 0; y < rows; ++y) std::copy_n(image.plane(p).row(y + by), image.width(), image.plane(p).row(y));
}

}  // namespace

CentreRows::CentreRows(int width, int planes) : width_(width), planes_(planes) {}

void CentreRows::make_room(int rows) {
  if (rows <= mean_.height()) return;
  for (Image<float>* image : {&mean_, &variance_, &sky_, &slope_, &frames_}) grow(*image, width_, rows, planes_, rows_);
  grow(missing_, width_, rows, planes_, rows_);
}

void CentreRows::append(const StackBand& band, const Image<float>& sky_mesh) {
  // All planes of a band come one after the other: the first makes room.
  if (band.plane == 0) {
    make_room(rows_ + band.mean.height);
    rows_ += band.mean.height;
  }
  for (int y = 0; y < band.mean.height; ++y) {
    const int row = band.y0 + y - y0_;
    float* sky = sky_.plane(band.plane).row(row);
    if (sky_mesh.empty()) {
      std::fill_n(sky, width_, 0.0f);
    } else {
      mesh_row(sky_mesh, kMasterBoxPx, band.y0 + y, width_, sky);
    }
    float* mean = mean_.plane(band.plane).row(row);
    std::uint8_t* missing = missing_.plane(band.plane).row(row);
    float* frames = frames_.plane(band.plane).row(row);
    std::copy_n(band.variance.row(y), width_, variance_.plane(band.plane).row(row));
    for (int x = 0; x < width_; ++x) {
      const float value = band.mean(x, y);
      missing[x] = static_cast<std::uint8_t>(std::isnan(value));
      mean[x] = missing[x] != 0 ? sky[x] : value;
      frames[x] = band.coverage(x, y) + band.rejected(x, y);
    }
  }
}

Result<void> CentreRows::find_slopes(const StackOptions& options, const Context& ctx) {
  NG_CHECK(parallel_for(ctx, rows_ - slopes_, [&](int i) {
    for (int p = 0; p < planes_; ++p) {
      float* slope = slope_.plane(p).row(slopes_ + i);
      slope_row(mean(p), slopes_ + i, slope);
      add_seeing_allowance({mean(p).row(slopes_ + i), static_cast<std::size_t>(width_)}, options.seeing,
                           options.combine.kappa, options.combine.slope_allowance, slope);
    }
  }));
  slopes_ = std::max(0, rows_ - 1);  // the last row's will change when the next comes
  return {};
}

void CentreRows::forget_above(int y) {
  const int by = std::clamp(y - y0_, 0, rows_);
  if (by == 0) return;
  rows_ -= by;
  y0_ += by;
  slopes_ = std::max(0, slopes_ - by);
  for (Image<float>* image : {&mean_, &variance_, &sky_, &slope_, &frames_}) move_up(*image, by, rows_);
  move_up(missing_, by, rows_);
}

}  // namespace ng::reduce
