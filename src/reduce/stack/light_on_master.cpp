#include "reduce/stack/light_on_master.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "frame/background_map.h"
#include "math/resample.h"
#include "reduce/stack/mesh_on_master.h"
#include "reduce/stack/prepare.h"

namespace ng::reduce {
namespace {

// y = x / scale - sky, along the rows of a band.
void bring_to_scale(const PlaneScale& plane, int x0, int y0, View<float> rows) {
  const auto inverse = static_cast<float>(1 / plane.scale);
  for (int y = 0; y < rows.height; ++y) {
    float* row = rows.row(y);
    // The surface is quadratic in x: three values give its coefficients.
    const double h = std::max(1.0, (rows.width - 1) / 2.0);
    const double s0 = plane.sky.at(x0, y0 + y);
    const double s1 = plane.sky.at(x0 + h, y0 + y);
    const double s2 = plane.sky.at(x0 + 2 * h, y0 + y);
    const auto c0 = static_cast<float>(s0);
    const auto c1 = static_cast<float>((4 * s1 - 3 * s0 - s2) / (2 * h));
    const auto c2 = static_cast<float>((s0 - 2 * s1 + s2) / (2 * h * h));
    for (int x = 0; x < rows.width; ++x) {
      const auto fx = static_cast<float>(x);
      row[x] = row[x] * inverse - (c0 + fx * (c1 + fx * c2));
    }
  }
}

// From the sums of squared kernel weights, in place: times the variance of the pixels that they weigh.
void predict_variance(const Image<float>& mesh, int x0, int y0, View<float> squares) {
  std::vector<float> variance(static_cast<std::size_t>(squares.width));
  for (int y = 0; y < squares.height; ++y) {
    mesh_row_between(mesh, kMasterBoxPx, y0 + y, x0, x0 + squares.width, variance.data());
    float* row = squares.row(y);
    for (int x = 0; x < squares.width; ++x) row[x] *= variance[static_cast<std::size_t>(x)];
  }
}

constexpr int kRowsAtOnce = 8;  // which lie in the cache from the first to the last step

}  // namespace

VarianceMeshes variance_on_master(const StackFrame& frame, int width, int height, int planes) {
  VarianceMeshes meshes;
  for (std::size_t p = 0; p < static_cast<std::size_t>(planes); ++p) {
    const PlaneScale& plane = frame.planes[p];
    const double factor = std::pow(frame.pixel_area / plane.scale, 2) * (frame.bayer ? plane.demosaiced_variance : 1);
    if (plane.variance == nullptr) {
      meshes[p] = Image<float>(1, 1, 1, static_cast<float>(factor * plane.noise * plane.noise));
      continue;
    }
    const FrameFacts& facts = frame.source->facts();
    meshes[p] = mesh_on_master({*plane.variance, plane.variance_box_px, facts.width, facts.height}, frame.to_master,
                               width, height, factor);
  }
  return meshes;
}

Result<void> light_on_master(const StackFrame& frame, const VarianceMeshes& meshes, const MasterRows& wanted,
                             LightRows& out, const math::LanczosPolynomials& lanczos, const Context& ctx,
                             const SquaresSeen& squares_seen) {
  const auto [top, rows, into] = wanted;
  const FrameFacts& facts = frame.source->facts();
  const int planes = out.values.planes();
  const int width = out.values.width();
  const math::PlaneMap from_master = frame.to_master.inverse();
  const math::PlaneMap to_frame = out.x0 == 0 ? from_master : from_master.on_subgrid(1, {double(out.x0), 0});
  const math::RowRange need = math::source_rows_needed(to_frame, top, rows, width, facts.width, facts.height);
  if (need.count < math::LanczosPolynomials::kTaps) {
    for (int p = 0; p < planes; ++p)
      for (int y = 0; y < rows; ++y) {
        std::fill_n(out.values.plane(p).row(into + y), width, std::nanf(""));
        std::fill_n(out.variance.plane(p).row(into + y), width, 0.0f);
      }
    return {};
  }
  NG_TRY(const PreparedRows prepared, prepare_rows(frame, need.y0, need.count, planes, ctx));
  for (int p = 0; p < planes; ++p) {
    const PlaneScale& plane = frame.planes[static_cast<std::size_t>(p)];
    math::ResampleOptions resample;
    resample.flux_scale = static_cast<float>(frame.pixel_area);
    resample.guard = static_cast<float>(3 * plane.noise);
    for (int y = 0; y < rows; y += kRowsAtOnce) {
      const int count = std::min(kRowsAtOnce, rows - y);
      const View<float> values = out.values.plane(p).rows(into + y, count);
      const View<float> squares = out.variance.plane(p).rows(into + y, count);
      math::resample_rows({prepared.pixels.plane(p), prepared.bad.plane(), prepared.y0}, to_frame, top + y, values,
                          squares, resample, lanczos);
      bring_to_scale(plane, out.x0, top + y, values);
      for (int i = 0; i < count && squares_seen; ++i)
        squares_seen(p, top + y + i, {squares.row(i), static_cast<std::size_t>(width)});
      predict_variance(meshes[static_cast<std::size_t>(p)], out.x0, top + y, squares);
    }
  }
  return {};
}

}  // namespace ng::reduce
