#include "reduce/stack/joined_tile.h"

#include <algorithm>
#include <cassert>

namespace ng::reduce {

JoinedTile::Part& JoinedTile::part_of(int panel) {
  const auto end = parts_.begin() + static_cast<std::ptrdiff_t>(used_);
  const auto found = std::find_if(parts_.begin(), end, [&](const auto& part) { return part->panel == panel; });
  assert(found != end);
  return **found;
}

void JoinedTile::begin(const Image<float>& master, const Image<float>& sky, std::span<const JoinedFrame> frames,
                       TileScratch& scratch) {
  used_ = 0;
  std::vector<int> panels;
  for (const JoinedFrame& f : frames)
    if (std::find(panels.begin(), panels.end(), f.panel) == panels.end()) panels.push_back(f.panel);
  for (const int panel : panels) {
    if (used_ == parts_.size()) parts_.push_back(std::make_unique<Part>(transform_));
    Part& part = *parts_[used_++];
    std::vector<TileFrame> of_master;
    part.panel = panel;
    part.frames = 0;
    for (const JoinedFrame& f : frames) {
      of_master.push_back(f.frame);
      if (f.panel == panel) {
        ++part.frames;
      } else {
        of_master.back().information = 0;
      }
    }
    part.information.fill(0);
    part.faded.fill(0);
    part.tile.begin(master, sky, of_master, scratch);
  }
}

void JoinedTile::add(const JoinedFrame& frame, const OutlierRule& rule, TileScratch& scratch) {
  Part& part = part_of(frame.panel);
  OutlierRule own = rule;
  own.reject = rule.reject && part.frames >= 3;
  part.tile.add(frame.frame, own, scratch);
}

void JoinedTile::keep(int panel, int x, int y, float information, float fade) {
  Part& part = part_of(panel);
  part.information.plane()(x, y) += information;
  if (several()) part.faded.plane()(x, y) += information * fade;
}

void JoinedTile::finish(Image<float>& out, Image<float>& information, TileScratch& scratch) const {
  if (used_ == 0) {
    out.fill(0);
    information.fill(0);
    return;
  }
  parts_[0]->tile.finish(out, scratch);
  const int side = transform_.side();
  if (used_ == 1) {
    for (int y = 0; y < side; ++y) std::copy_n(parts_[0]->information.plane().row(y), side, information.plane().row(y));
    return;
  }
  std::vector<Image<float>> pictures;
  for (std::size_t k = 1; k < used_; ++k) {
    pictures.push_back(transform_.tile());
    parts_[k]->tile.finish(pictures.back(), scratch);
  }
  for (int y = 0; y < side; ++y) {
    for (int x = 0; x < side; ++x) {
      float weight = 0, value = 0, variance = 0;
      for (std::size_t k = 0; k < used_; ++k) {
        const float w = parts_[k]->information.plane()(x, y);
        if (!(w > 0)) continue;
        const float f = parts_[k]->faded.plane()(x, y);
        weight += f;
        value += f * (k == 0 ? out : pictures[k - 1]).plane()(x, y);
        variance += f * f / w;
      }
      if (weight > 0) out.plane()(x, y) = value / weight;
      information.plane()(x, y) = weight > 0 ? weight * weight / variance : 0;
    }
  }
}

}  // namespace ng::reduce
