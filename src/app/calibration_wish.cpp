#include "app/calibration_wish.h"

#include "app/text_file.h"
#include "app/toml_keys.h"

namespace ng::app {
namespace {

constexpr const char* kFile = "calibration.toml";
constexpr int kMostFrames = 1000;

}  // namespace

int CalibrationWish::count(FrameKind kind) const {
  switch (kind) {
    case FrameKind::kDark:
      return darks;
    case FrameKind::kFlat:
      return flats;
    case FrameKind::kBias:
      return bias;
    default:
      return dark_flats;
  }
}

Result<CalibrationWish> parse_calibration_wish(const std::string& text, const std::string& name) {
  CalibrationWish w;
  double percent = 100 * w.tolerance.exposure_share;
  NG_CHECK(TomlReader(name).read(text, {{"exposure_tolerance_percent", within(percent, 0, 50)},
                                        {"temperature_tolerance_c", within(w.tolerance.temperature_c, 0, 50)},
                                        {"rotation_tolerance_deg", within(w.tolerance.rotation_deg, 0, 180)},
                                        {"darks", within(w.darks, 1, kMostFrames)},
                                        {"flats", within(w.flats, 1, kMostFrames)},
                                        {"bias", within(w.bias, 1, kMostFrames)},
                                        {"dark_flats", within(w.dark_flats, 1, kMostFrames)},
                                        {"old_after_days", above(w.old_after_days, 0, 1e5)}}));
  w.tolerance.exposure_share = percent / 100;
  return w;
}

Result<CalibrationWish> read_calibration_wish(const std::filesystem::path& workspace) {
  const std::filesystem::path path = workspace / kFile;
  std::error_code ignored;
  if (!std::filesystem::exists(path, ignored)) return CalibrationWish{};
  NG_TRY(const std::string text, read_text(path));
  return parse_calibration_wish(text, path.string());
}

}  // namespace ng::app
