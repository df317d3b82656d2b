// reduce/stack/integrate.h - the frames of a night become one picture, band by band.
//
// For each band of master rows: every frame's rows are read, calibrated, bridged, demosaiced where a mosaic asks for
// it, resampled onto the master grid and brought to the reference's scale and sky; then each pixel's values are
// combined (math/combine.h). No frame is ever held whole, nothing intermediate is written. The result has the same bits
// for any number of threads and any memory budget: a pixel's value depends on its own column of values alone.
#pragma once

#include <array>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "frame/bayer.h"
#include "frame/source.h"
#include "math/combine.h"
#include "math/plane_map.h"
#include "reduce/single/calibrate.h"
#include "reduce/single/demosaic.h"
#include "reduce/stack/noise_curve.h"
#include "reduce/stack/normalise.h"
#include "reduce/stack/seeing_allowance.h"

namespace ng::reduce {

// What a frame needs per colour; mono frames use the first.
struct PlaneScale {
  double scale = 1;   // flux relative to the reference
  SkySurface sky;     // to be subtracted on the common scale, per master pixel
  double noise = 1;   // of one calibrated pixel on bare sky, electrons: the usual value
  double weight = 1;  // in the mean (weights.h)
  // Of a mosaic: variance of what is interpolated between its demosaiced pixels, over that between independent ones
  // (demosaic_noise.h).
  double demosaiced_variance = 1;
  // Variance of one calibrated pixel of the background, per box of the frame; empty: noise^2 everywhere.
  const Image<float>* variance = nullptr;
  int variance_box_px = 64;
};

// A strip of a frame that is no measurement: points with |normal_x x + normal_y y - distance| <= half_width, in frame
// pixels, the normal of length 1.
struct Strip {
  double normal_x = 0, normal_y = 1, distance = 0, half_width = 0;
};

struct StackFrame {
  FrameSource* source = nullptr;
  Calibration calibration;
  std::optional<BayerPattern> bayer;
  ColourBalance balance;  // for the demosaicing
  math::PlaneMap to_master;
  double pixel_area = 1;  // of a master pixel, in frame pixels: it gathers the light of so many
  std::array<PlaneScale, 3> planes;
  std::vector<Strip> strips;  // trails
  int panel = 0;              // of a mosaic: frames of one panel show nearly the same field
  float coverage = 1;         // what a kept value adds to COVERAGE: exposure in seconds
};

struct StackOptions {
  int width = 0;  // of the master
  int height = 0;
  int planes = 1;                   // 3 for mosaics and colour frames
  std::array<Image<float>, 3> sky;  // background of the master per plane, per box of kMasterBoxPx; empty = 0
  math::CombineOptions combine;
  int noise_plane = 0;    // whose noise curve is wanted
  SeeingSpread seeing;    // of the frames
  double feather_px = 0;  // width of the border where frames fade out (feather.h); 0: they do not
};

// One band of the result: rows y0 ... y0 + rows of one plane.
struct StackBand {
  int plane = 0;
  int y0 = 0;
  View<const float> mean, variance, coverage, rejected;
};

struct StackCounts {
  double values = 0;  // offered, over all pixels
  double rejected = 0;
  std::vector<NoisePoint> noise;  // from the first frame to all
  // Noise of a wide area's sum over what its pixels would give if they were independent: resampling makes single pixels
  // less noisy and their neighbours alike.
  double noise_correlation = 1;
};

// `deliver` gets the bands from top to bottom, plane after plane within a band, one after the other but from any
// thread. Where `between` is given, it is called after every band and at the end by the caller's thread, while no frame
// is being read: then the rows delivered so far may be worked on with all hands. Frames with fewer than the master's
// planes are a bug of the caller. Errors: those of reading, of `deliver` and of `between`, kCancelled.
[[nodiscard]] Result<StackCounts> integrate(std::span<const StackFrame> frames, const StackOptions& options,
                                            const std::function<Result<void>(const StackBand&)>& deliver,
                                            const Context& ctx, const std::function<Result<void>()>& between = {});

}  // namespace ng::reduce
