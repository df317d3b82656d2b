#include "app/shelf_pixels.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "app/input_frames.h"
#include "app/sensor_pixels.h"
#include "diagnose/dark_drift.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;
using Frames = std::vector<const store::LibraryFrame*>;

constexpr std::size_t kMostRead = 8;

Result<diagnose::FrameStack> stack(const Frames& wanted, const fs::path& root, const Context& ctx) {
  std::vector<fs::path> paths;
  for (const auto* f : wanted)
    if (paths.size() < kMostRead) paths.push_back(root / f->path);
  std::vector<InputFrame> frames;
  NG_CHECK(add_frames(paths, frames, ctx));
  std::vector<std::size_t> members;
  for (std::size_t i = 0; i < frames.size(); ++i) {
    if (frames[i].usable()) {
      members.push_back(i);
    } else if (frames[i].source == nullptr) {
      return Error(Code::kIo, fmt::format("{}: {}; `nightglass library check` tells more", frames[i].path.string(),
                                          frames[i].reason));
    }
  }
  return stack_of(frames, members, ctx);
}

// Darks of one gain and temperature, by exposure; the longest ones last.
std::map<double, Frames> by_exposure(const std::vector<store::LibraryFrame>& shelf, const CalibrationFacts& like,
                                     const CalibrationTolerance& tolerance) {
  std::map<double, Frames> found;
  for (const store::LibraryFrame& f : shelf) {
    if (f.kind != FrameKind::kDark || !f.exposure_s) continue;
    const unsigned off = calibration_mismatch(calibration_facts(f), like, tolerance);
    if ((off & ~static_cast<unsigned>(kOtherExposure)) == 0) found[*f.exposure_s].push_back(&f);
  }
  return found;
}

}  // namespace

Result<DriftFinding> drift_of(const Frames& darks, const fs::path& root, const Context& ctx) {
  std::map<std::string, Frames> nights;
  for (const auto* f : darks)
    if (!f->night.empty()) nights[f->night].push_back(f);
  DriftFinding finding;
  if (nights.size() < 2) {
    finding.words = "all of one night: 4 new ones would tell whether they still hold";
    return finding;
  }
  const auto& [first_night, first] = *nights.begin();
  const auto& [last_night, last] = *nights.rbegin();
  if (first.size() < 2 || last.size() < 2) return finding;
  NG_TRY(const auto before, stack(first, root, ctx));
  NG_TRY(const auto after, stack(last, root, ctx));
  NG_TRY(const diagnose::DarkDrift d, diagnose::dark_drift(before, after, ctx));
  finding.drifted = d.drifted;
  finding.still_good = static_cast<int>(last.size());
  finding.words = fmt::format(
      "{} against {}: level {:+.2f} ± {:.2f} ADU where one dark scatters by {:.1f}; {} of {} hot pixels differ: {}",
      last_night, first_night, d.level_adu.value, d.level_adu.error, d.scatter_adu, d.hot_changed,
      std::max(d.hot_old, d.hot_new), d.drifted ? "the old ones no longer hold" : "they still hold");
  return finding;
}

Result<std::string> scaling_advice(const std::vector<store::LibraryFrame>& shelf, const fs::path& root,
                                   const ShelfNeed& need, const CalibrationTolerance& tolerance,
                                   std::pair<int, int> size, const Context& ctx) {
  CalibrationFacts like;
  like.width = size.first;
  like.height = size.second;
  like.exposure_s = need.exposure_s;
  like.gain_setting = need.gain_setting;
  like.temperature_c = need.temperature_c;
  Frames bias;
  for (const store::LibraryFrame& f : shelf)
    if (f.kind == FrameKind::kBias && calibration_mismatch(calibration_facts(f), like, tolerance) == 0)
      bias.push_back(&f);
  const auto darks = by_exposure(shelf, like, tolerance);
  if (bias.size() < 2 || darks.size() < 2 || darks.rbegin()->first < need.exposure_s.value_or(0)) return std::string();
  const auto& [short_s, brief] = *darks.begin();
  const auto& [long_s, lengthy] = *darks.rbegin();
  NG_TRY(const auto zero, stack(bias, root, ctx));
  NG_TRY(const auto a, stack(brief, root, ctx));
  NG_TRY(const auto b, stack(lengthy, root, ctx));
  const auto scaling = diagnose::dark_scaling(zero, a, short_s, b, long_s, ctx);
  if (!scaling.ok()) {
    if (scaling.error().code() == Code::kTooFew) return "whether darks may be scaled: " + scaling.error().message();
    return scaling.error();
  }
  return fmt::format(
      "darks of {:g} and {:g} s and the bias: usual pixels {:.4f} ± {:.4f}, hot ones {:.4f} ± {:.4f}, where "
      "{:.4f} is expected: {}",
      short_s, long_s, scaling->usual.value, scaling->usual.error, scaling->hot.value, scaling->hot.error,
      scaling->expected,
      scaling->valid ? fmt::format("those of {:g} s may be scaled until you have your own", long_s)
                     : "darks of this sensor must not be scaled");
}

}  // namespace ng::app
