#include "reduce/stack/band_slots.h"

#include <algorithm>

#include "reduce/stack/feather.h"
#include "reduce/stack/frame_reach.h"
#include "reduce/stack/master_stretches.h"

namespace ng::reduce {
namespace {

// Rows that the next band begins with go to the front.
void bring_to_front(View<float> rows, int from, int count) {
  for (int y = 0; y < count; ++y) std::copy_n(rows.row(from + y), rows.width, rows.row(y));
}

}  // namespace

BandRows band_rows(int y0, int most, int height) {
  BandRows b{y0, std::min(most, height - y0), 0, 0, 0, 0};
  b.top = std::max(0, y0 - 1);
  b.bottom = std::min(height, y0 + b.rows + 1);
  b.slot_top = std::max(0, y0 - 2);
  b.slot_rows = std::min(height, y0 + b.rows + 2) - b.slot_top;
  return b;
}

bool tells_noise(const StackOptions& options, int plane, int y) {
  if (plane != options.noise_plane) return false;
  const int wanted = std::max(1, 150000 / options.width);
  const int step = std::max(1, options.height / wanted) | 1;  // odd: both kinds of rows of a mosaic
  return y % step == step / 2;
}

BandSlots::BandSlots(std::span<const StackFrame> frames, const StackOptions& options, const Context& ctx)
    : frames_(frames), options_(options), ctx_(ctx), slots_(frames.size()), kernels_(frames) {
  for (const StackFrame& f : frames) {
    to_frame_.push_back(f.to_master.inverse());
    variance_meshes_.push_back(variance_on_master(f, options.width, options.height, options.planes));
    reaches_.push_back(reach_on_master(f, options.width, options.height));
  }
  const std::size_t images = static_cast<std::size_t>(options.planes) * 2 + (options.feather_px > 0 ? 1 : 0);
  band_ = band_that_fits(reaches_, options.height, 4, 96, BandRows::kSpare, images * sizeof(float),
                         ctx.memory_budget_bytes / 3);
}

std::vector<std::size_t> BandSlots::take(const BandRows& band) {
  std::vector<std::size_t> here;
  for (std::size_t j = 0; j < frames_.size(); ++j) {
    if (meets_rows(reaches_[j], band.slot_top, band.slot_rows)) {
      here.push_back(j);
    } else {
      slots_[j] = {};
    }
  }
  return here;
}

Result<void> BandSlots::fill(std::size_t frame, const BandRows& band) {
  Slot& slot = slots_[frame];
  const Region& reach = reaches_[frame];
  if (slot.light.values.empty()) {
    slot.light = LightRows(reach.x0, reach.width, band_ + BandRows::kSpare, options_.planes);
    slot.hits =
        Image<math::HitWord>((reach.width + math::kHitPixels - 1) / math::kHitPixels, band_ + BandRows::kSpareCombined);
    if (options_.feather_px > 0) slot.fades = Image<float>(reach.width, band_ + BandRows::kSpare);
  }
  const int held = std::max(0, slot.end - band.slot_top);
  for (int p = 0; p < options_.planes; ++p)
    for (Image<float>* image : {&slot.light.values, &slot.light.variance})
      bring_to_front(image->plane(p), band.slot_top - slot.top, held);
  const MasterRows missing{band.slot_top + held, band.slot_rows - held, held};
  slot.top = band.slot_top;
  slot.end = band.slot_top + band.slot_rows;
  if (missing.rows > 0)
    NG_CHECK(light_on_master(frames_[frame], variance_meshes_[frame], missing, slot.light, lanczos_, ctx_.serial(),
                             [&](int plane, int y, std::span<const float> squares) {
                               if (tells_noise(options_, plane, y)) kernels_.add(frame, squares);
                             }));
  const FrameFacts& facts = frames_[frame].source->facts();
  for (int y = 0; y < band.slot_rows && !slot.fades.empty(); ++y)
    feather_row({options_.feather_px, facts.width, facts.height}, to_frame_[frame], reach.x0, band.slot_top + y,
                {slot.fades.plane().row(y), static_cast<std::size_t>(reach.width)});
  return {};
}

}  // namespace ng::reduce
