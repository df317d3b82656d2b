// app/calibration_set.h - which darks, flats and bias belong to which lights, and the masters made of them.
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "app/calibration_keeper.h"
#include "app/input_frames.h"
#include "app/reduce.h"
#include "reduce/single/calibrate.h"
#include "reduce/single/master.h"
#include "reduce/single/variance.h"

namespace ng::app {

// Everything that the lights of one kind (same sensor size, binning, gain, exposure, temperature, filter) share. The
// views of `calibration` point into masters owned by the CalibrationShelf; they are good after its release().
struct LightCalibration {
  reduce::Calibration calibration;
  std::string zero;  // what the zero level came from, for the report: "12 darks", "20 bias", "header"
  std::string flat;  // "12 flats", or empty
  bool gain_known = false;
  bool from_dark = false;
  reduce::CalibrationNoise noise;
};

class CalibrationShelf {
 public:
  CalibrationShelf(std::vector<InputFrame>& frames, const ReduceRequest& request, std::vector<std::string>& notes)
      : frames_(frames), request_(request), notes_(notes), keeper_(workspace_of(request)) {}

  // Makes (or takes again) the masters that this light needs. Marks the calibration frames used.
  [[nodiscard]] Result<LightCalibration> for_light(const InputFrame& light, const Context& ctx);
  // After the last light: masters that were made anew are kept for the next reduction, where there is a workspace.
  // Returns their descriptions.
  [[nodiscard]] std::vector<std::filesystem::path> keep();
  // After that: flats become the gains that the lights' calibration points at, and pictures that no light needs are let
  // go.
  [[nodiscard]] Result<void> release(const Context& ctx);
  // After the last light: what was not used says why.
  void explain_unused();
  [[nodiscard]] bool used(const InputFrame& frame) const;
  // What every master was made of and how, in the order of their keys: the same whether it was kept or not.
  [[nodiscard]] std::vector<CalibrationMaster> masters() const;
  [[nodiscard]] int masters_kept() const { return masters_kept_; }  // that were taken, not made

 private:
  struct Shelved {
    reduce::Master master;
    Image<std::uint8_t> defects;  // of a pair of dark and flat
    CalibrationMaster about;
    std::string text;
    int frames = 0;
  };

  std::vector<std::size_t> matching(FrameKind kind, const InputFrame& like) const;
  Result<const Shelved*> master_of(const std::vector<std::size_t>& members, FrameKind kind,
                                   const reduce::MasterOptions& options, const Shelved* zero, const std::string& what,
                                   const Context& ctx);
  Result<reduce::Master> make(const std::vector<std::size_t>& members, const reduce::MasterOptions& options,
                              const std::string& what, const Context& ctx);
  Result<const Shelved*> bias_for(const InputFrame& like, const Context& ctx);
  Result<const Shelved*> dark_for(const InputFrame& like, FrameKind kind, const Context& ctx);
  Result<const Shelved*> flat_for(const InputFrame& light, const Context& ctx);
  Result<View<const std::uint8_t>> defects_of(const Shelved* dark, const Shelved* flat, const FrameFacts& facts,
                                              const Context& ctx);
  void note_once(const std::string& text);

  std::vector<InputFrame>& frames_;
  const ReduceRequest& request_;
  std::vector<std::string>& notes_;
  std::map<std::string, Shelved> shelf_;
  std::map<std::pair<const Shelved*, const Shelved*>, Image<std::uint8_t>> defects_;
  std::vector<std::size_t> used_;
  std::set<const Shelved*> zeros_, flats_;  // that lights point into
  int masters_kept_ = 0;
  CalibrationKeeper keeper_;  // the last: it waits for what it writes out of shelf_
};

}  // namespace ng::app
