#include "app/calibration_set.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/calibration_rule.h"
#include "base/parallel.h"
#include "reduce/single/defects.h"

namespace ng::app {

void CalibrationShelf::note_once(const std::string& text) {
  if (std::find(notes_.begin(), notes_.end(), text) == notes_.end()) notes_.push_back(text);
}

bool CalibrationShelf::used(const InputFrame& frame) const {
  const auto index = static_cast<std::size_t>(&frame - frames_.data());
  return std::find(used_.begin(), used_.end(), index) != used_.end();
}

std::vector<std::size_t> CalibrationShelf::matching(FrameKind kind, const InputFrame& like) const {
  std::vector<std::size_t> members;
  const CalibrationTolerance tolerance{request_.exposure_tolerance, request_.temperature_tolerance_c,
                                       request_.rotation_tolerance_deg};
  const CalibrationFacts wanted = calibration_facts(like.facts(), like.kind);
  for (std::size_t i = 0; i < frames_.size(); ++i)
    if (frames_[i].usable() && frames_[i].kind == kind &&
        calibration_mismatch(calibration_facts(frames_[i].facts(), kind), wanted, tolerance) == 0)
      members.push_back(i);
  // In the order of their content, wherever their files lie: sums then come out the same.
  std::sort(members.begin(), members.end(),
            [&](std::size_t x, std::size_t y) { return frames_[x].hash < frames_[y].hash; });
  return members;
}

Result<reduce::Master> CalibrationShelf::make(const std::vector<std::size_t>& members,
                                              const reduce::MasterOptions& options, const std::string& what,
                                              const Context& ctx) {
  std::vector<std::unique_ptr<FrameSource>> sources;
  for (const std::size_t i : members) sources.push_back(std::move(frames_[i].source));
  ctx.begin("master " + what, sources[0]->facts().height);
  auto made = reduce::make_master(sources, options, ctx);
  for (std::size_t k = 0; k < members.size(); ++k) frames_[members[k]].source = std::move(sources[k]);
  if (!made.ok()) return std::move(made).error().in("master " + what);
  return made;
}

Result<const CalibrationShelf::Shelved*> CalibrationShelf::master_of(const std::vector<std::size_t>& members,
                                                                     FrameKind kind,
                                                                     const reduce::MasterOptions& options,
                                                                     const Shelved* zero, const std::string& what,
                                                                     const Context& ctx) {
  std::vector<const InputFrame*> inputs;
  for (const std::size_t i : members) inputs.push_back(&frames_[i]);
  CalibrationMaster about = describe_master(inputs, kind, options, zero != nullptr ? zero->about.key : "");
  const auto [place, is_new] = shelf_.try_emplace(about.key);
  Shelved& s = place->second;
  if (!is_new) return &s;

  if (auto kept = keeper_.take(about.key, notes_)) {
    s.master = std::move(*kept);
    ++masters_kept_;
  } else {
    auto made = make(members, options, what, ctx);
    if (!made.ok()) {
      shelf_.erase(place);
      return std::move(made).error();
    }
    s.master = std::move(made).value();
    keeper_.keep(about, s.master.single_noise, std::as_const(s.master.image).plane());
  }
  used_.insert(used_.end(), members.begin(), members.end());
  s.about = std::move(about);
  s.text = fmt::format("{} {}", members.size(), what);
  s.frames = static_cast<int>(members.size());
  return &s;
}

Result<const CalibrationShelf::Shelved*> CalibrationShelf::bias_for(const InputFrame& like, const Context& ctx) {
  const auto members = matching(FrameKind::kBias, like);
  if (members.empty()) return nullptr;
  return master_of(members, FrameKind::kBias, {}, nullptr, "bias", ctx);
}

Result<const CalibrationShelf::Shelved*> CalibrationShelf::dark_for(const InputFrame& like, FrameKind kind,
                                                                    const Context& ctx) {
  const auto members = matching(kind, like);
  if (members.empty()) return nullptr;
  return master_of(members, kind, {}, nullptr, kind == FrameKind::kDark ? "darks" : "dark-flats", ctx);
}

Result<const CalibrationShelf::Shelved*> CalibrationShelf::flat_for(const InputFrame& light, const Context& ctx) {
  const auto members = matching(FrameKind::kFlat, light);
  if (members.empty()) return nullptr;
  const InputFrame& first = frames_[members[0]];
  reduce::MasterOptions options;
  options.normalise = true;
  options.bayer = first.facts().mosaic(request_.bayer);
  NG_TRY(const Shelved* zero, dark_for(first, FrameKind::kDarkFlat, ctx));
  if (zero == nullptr) {
    NG_TRY(zero, bias_for(first, ctx));
  }
  if (zero != nullptr) {
    options.zero = zero->master.image.plane();
  } else {
    options.zero_level = static_cast<float>(first.facts().black_level_adu.value_or(0));
    note_once(
        "no dark-flats and no bias for the flats: their zero level is taken from the header or as 0, which makes the "
        "flat too shallow");
  }
  return master_of(members, FrameKind::kFlat, options, zero, "flats", ctx);
}

Result<View<const std::uint8_t>> CalibrationShelf::defects_of(const Shelved* dark, const Shelved* flat,
                                                              const FrameFacts& facts, const Context& ctx) {
  const auto key = std::pair{dark, flat};
  if (!defects_.contains(key)) {
    const View<const float> none;
    NG_TRY(defects_[key], reduce::defects_from_masters(dark != nullptr ? dark->master.image.plane() : none,
                                                       flat != nullptr ? flat->master.image.plane() : none, facts.width,
                                                       facts.height, {}, ctx));
  }
  return View<const std::uint8_t>(defects_[key].plane());
}

Result<LightCalibration> CalibrationShelf::for_light(const InputFrame& light, const Context& ctx) {
  const FrameFacts& facts = light.facts();
  LightCalibration result;
  reduce::Calibration& c = result.calibration;
  c.electrons_per_adu = static_cast<float>(facts.electrons_per_adu.value_or(1));
  result.gain_known = facts.electrons_per_adu.has_value();
  if (facts.planes != 1) {
    result.zero = "colour image, taken as calibrated";
    return result;
  }

  const Shelved* dark = nullptr;
  const Shelved* bias = nullptr;
  if (!facts.dark_subtracted && !facts.calibrated) {
    NG_TRY(dark, dark_for(light, FrameKind::kDark, ctx));
    if (dark == nullptr) {
      NG_TRY(bias, bias_for(light, ctx));
    }
  }
  const Shelved* zero = dark != nullptr ? dark : bias;
  if (zero != nullptr) {
    c.zero = zero->master.image.plane();
    zeros_.insert(zero);
    result.zero = zero->text;
    result.from_dark = dark != nullptr;
    if (zero->frames > 1) {  // one frame alone does not tell its noise
      result.noise.zero_variance_e2 = std::pow(zero->master.single_noise * c.electrons_per_adu, 2);
      result.noise.zero_frames = zero->frames;
    }
  } else {
    c.zero_level = static_cast<float>(facts.calibrated ? 0 : facts.black_level_adu.value_or(0));
    result.zero = facts.dark_subtracted || facts.calibrated ? "already off, says the header" : "header";
  }
  if (dark == nullptr && !facts.dark_subtracted && !facts.calibrated) {
    note_once(
        fmt::format("no dark matches the lights of {}: hot pixels are mapped from the lights themselves and amplifier "
                    "glow stays; take "
                    "darks of the same exposure, gain and temperature",
                    describe(facts)));
  }

  const Shelved* flat = nullptr;
  if (!facts.flat_fielded && !facts.calibrated) {
    NG_TRY(flat, flat_for(light, ctx));
    if (flat != nullptr) {
      c.flat_gain = flat->master.image.plane();
      flats_.insert(flat);
      result.flat = flat->text;
      if (flat->frames > 1) result.noise.flat_variance = std::pow(flat->master.single_noise, 2) / flat->frames;
    } else {
      note_once(fmt::format("no flat for filter '{}': vignetting and dust shadows stay in the master", facts.filter));
    }
  }
  if (dark != nullptr || flat != nullptr) {
    NG_TRY(c.defects, defects_of(dark, flat, facts, ctx));
  }
  return result;
}

std::vector<std::filesystem::path> CalibrationShelf::keep() {
  return keeper_.settle(notes_);
}

std::vector<CalibrationMaster> CalibrationShelf::masters() const {
  std::vector<CalibrationMaster> all;
  for (const auto& [key, shelved] : shelf_) all.push_back(shelved.about);
  return all;
}

Result<void> CalibrationShelf::release(const Context& ctx) {
  for (auto& [key, shelved] : shelf_) {
    const View<float> picture = shelved.master.image.plane();
    if (flats_.contains(&shelved)) {
      const float dead = std::nanf("");
      NG_CHECK(parallel_for(ctx, picture.height, [&](int y) {
        float* row = picture.row(y);
        for (int x = 0; x < picture.width; ++x) row[x] = row[x] > 0.05f ? 1 / row[x] : dead;
      }));
    } else if (!zeros_.contains(&shelved)) {
      shelved.master.image = Image<float>();
    }
  }
  return {};
}

void CalibrationShelf::explain_unused() {
  for (std::size_t i = 0; i < frames_.size(); ++i) {
    InputFrame& f = frames_[i];
    if (!f.usable() || used(f)) continue;
    switch (f.kind) {
      case FrameKind::kDark:
        f.reason = "no light of its exposure, gain, temperature, binning and size";
        break;
      case FrameKind::kBias:
        f.reason =
            "not needed: every light has a matching dark and every flat its dark-flats, or size, gain or temperature "
            "differ";
        break;
      case FrameKind::kFlat:
        f.reason = "no light of its filter, binning, size and rotation";
        break;
      case FrameKind::kDarkFlat:
        f.reason = "no flat of its exposure, gain, temperature, binning and size";
        break;
      default:
        break;
    }
  }
}

}  // namespace ng::app
