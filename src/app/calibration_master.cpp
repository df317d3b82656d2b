#include "app/calibration_master.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "app/library_layout.h"
#include "app/message_read.h"
#include "app/text_file.h"
#include "io/content_hash.h"
#include "io/fits_writer.h"
#include "io/open_frame.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

FrameKind kind_named(const std::string& word) {
  for (const FrameKind kind : {FrameKind::kDark, FrameKind::kFlat, FrameKind::kBias, FrameKind::kDarkFlat})
    if (to_string(kind) == word) return kind;
  return FrameKind::kUnknown;
}

// Of the frames that state it, to a millionth: a mean of equal numbers shall be that number.
std::optional<double> mean_of(const std::vector<const InputFrame*>& members, std::optional<double> FrameFacts::*fact) {
  double sum = 0;
  int n = 0;
  for (const InputFrame* f : members)
    if (const auto& value = f->facts().*fact) sum += *value, ++n;
  if (n == 0) return std::nullopt;
  return std::round(sum / n * 1e6) / 1e6;
}

std::vector<io::FitsCard> cards_of(const CalibrationMaster& m) {
  std::string kind = m.kind;
  std::transform(kind.begin(), kind.end(), kind.begin(), [](unsigned char c) { return std::toupper(c); });
  std::vector<io::FitsCard> cards{{"IMAGETYP", "MASTER " + kind, "clipped mean of frames"}};
  const auto text = [&](const char* name, const std::string& value, const char* comment) {
    if (!value.empty()) cards.push_back({name, value, comment});
  };
  const auto number = [&](const char* name, const std::optional<double>& value, const char* comment) {
    if (value) cards.push_back({name, *value, comment});
  };
  text("BUNIT", m.normalise ? "" : "adu", "");
  cards.push_back({"NCOMBINE", static_cast<std::int64_t>(m.frames), "frames"});
  text("INSTRUME", m.camera, "");
  text("FILTER", m.filter, "");
  number("EXPTIME", m.exposure_s, "s, of each frame");
  number("GAIN", m.gain_setting, "setting of the camera");
  number("OFFSET", m.offset_setting, "setting of the camera");
  number("CCD-TEMP", m.sensor_temperature_c, "C, mean");
  number("ROTATANG", m.rotation_deg, "deg");
  cards.push_back({"XBINNING", static_cast<std::int64_t>(m.binning_x), ""});
  cards.push_back({"YBINNING", static_cast<std::int64_t>(m.binning_y), ""});
  text("DATE-OBS", m.first, "UTC, start of the first frame");
  text("HISTORY",
       "nightglass: what it was made of stands in " + calibration_master_name(m) + std::string(kCalibrationEnding), "");
  return cards;
}

Result<void> write_fits(const fs::path& path, const CalibrationMaster& master, View<const float> image) {
  NG_TRY(io::FitsWriter writer, io::FitsWriter::create(path, io::Overwrite::kRefuse));
  io::FitsImageSpec spec;
  spec.width = image.width;
  spec.height = image.height;
  spec.cards = cards_of(master);
  NG_TRY(const int hdu, writer.add_image(spec));
  NG_CHECK(writer.write_rows(hdu, 0, 0, image));
  return writer.commit();
}

}  // namespace

CalibrationMaster describe_master(const std::vector<const InputFrame*>& members, FrameKind kind,
                                  const reduce::MasterOptions& options, const std::string& zero) {
  const FrameFacts& first = members.front()->facts();
  CalibrationMaster m;
  m.kind = to_string(kind);
  m.version = reduce::kMasterVersion;
  m.frames = static_cast<int>(members.size());
  m.camera = readable(first.camera);
  m.width = first.width;
  m.height = first.height;
  m.binning_x = first.binning_x;
  m.binning_y = first.binning_y;
  m.gain_setting = first.gain_setting;
  m.offset_setting = first.offset_setting;
  m.exposure_s = mean_of(members, &FrameFacts::exposure_s);
  if (kind == FrameKind::kFlat) {
    m.filter = readable(first.filter);
    m.rotation_deg = mean_of(members, &FrameFacts::rotation_deg);
  } else {
    m.sensor_temperature_c = mean_of(members, &FrameFacts::sensor_temperature_c);
  }
  std::optional<Instant> begin, end;
  for (const InputFrame* f : members) {
    const auto& start = f->facts().start;
    m.calibration.push_back({readable(f->path.filename().string()), f->hash, start ? start->iso() : ""});
    if (!start) continue;
    if (!begin || *start < *begin) begin = start;
    if (!end || *start > *end) end = start;
  }
  if (begin) m.first = begin->iso(), m.last = end->iso();
  m.kappa = options.kappa;
  m.normalise = options.normalise;
  if (options.normalise && options.bayer) m.bayer = to_string(*options.bayer);
  m.zero = zero;
  m.zero_level = options.zero_level;
  // Of numbers the shortest text that reads back the same.
  std::string all =
      fmt::format("{} {} {} {} {} {} {}", m.version, m.kind, m.kappa, m.normalise, m.bayer, m.zero, m.zero_level);
  for (const CalibrationMasterFrame& f : m.calibration) all += " " + f.xxh3_128;
  m.key = io::content_hash(all);
  return m;
}

std::string calibration_master_name(const CalibrationMaster& m) {
  std::string name = m.kind;
  if (!m.filter.empty()) name += "_" + m.filter;
  if (m.exposure_s && m.kind != "flat") name += fmt::format("_{:g}s", *m.exposure_s);
  if (m.gain_setting) name += fmt::format("_gain{:g}", *m.gain_setting);
  if (m.sensor_temperature_c) name += fmt::format("_{:.0f}C", *m.sensor_temperature_c);
  name += fmt::format("_{}x{}_{}", m.width, m.height, m.key.substr(0, 10));
  for (char& c : name)
    if (std::isalnum(static_cast<unsigned char>(c)) == 0 && c != '-' && c != '+' && c != '.') c = '_';
  return name;
}

bool is_calibration_master(const fs::path& fits) {
  std::error_code ignored;
  return fs::exists(fits.parent_path() / (fits.stem().string() + std::string(kCalibrationEnding)), ignored);
}

Result<CalibrationMaster> read_calibration_master(const fs::path& description) {
  NG_TRY(const std::string text, read_text(description));
  CalibrationMaster master;
  const auto read = MessageReader(description.parent_path()).read(Json::parse(text, nullptr, false), "", master);
  if (!read.ok() || master.key.empty() || master.calibration.empty() || kind_named(master.kind) == FrameKind::kUnknown)
    return Error(Code::kCorrupt, description.string() + ": describes no calibration master: make it anew by `reduce`");
  return master;
}

Result<reduce::Master> read_calibration_pixels(const fs::path& fits, const CalibrationMaster& master) {
  NG_TRY(const auto source, io::open_frame(fits));
  const FrameFacts& facts = source->facts();
  const bool fits_it = facts.width == master.width && facts.height == master.height && facts.planes == 1;
  reduce::Master result;
  if (fits_it) {
    result.image = Image<float>(master.width, master.height);
    NG_CHECK(source->read_rows(0, 0, result.image.plane()));
  }
  if (!fits_it || hash_pixels(result.image.plane()) != master.pixels_xxh3_128)
    return Error(Code::kCorrupt, fits.string() + ": its pixels are not those that were kept");
  result.single_noise = static_cast<float>(master.single_noise_adu);
  return result;
}

Result<fs::path> write_calibration_master(const fs::path& folder, const CalibrationMaster& master,
                                          View<const float> image) {
  const std::string name = calibration_master_name(master), text = to_json(master).dump(2) + "\n";
  for (int n = 1;; ++n) {
    const std::string numbered = n == 1 ? name : fmt::format("{}-{}", name, n);
    const fs::path description = folder / (numbered + std::string(kCalibrationEnding)),
                   fits = folder / (numbered + ".fits");
    std::error_code ignored;
    if (fs::exists(fs::symlink_status(description, ignored))) {
      const auto there = read_text(description);
      if (!there.ok() || *there != text) continue;
    }
    if (fs::exists(fs::symlink_status(fits, ignored))) {
      if (!read_calibration_pixels(fits, master).ok()) continue;
    } else if (const auto written = write_fits(fits, master, image);
               !written.ok() && written.error().code() != Code::kExists) {
      return written.error();
    }
    const auto described = write_text(description, text, io::Overwrite::kRefuse);
    if (!described.ok() && described.error().code() != Code::kExists) return described.error();
    return description;
  }
}

std::string hash_pixels(View<const float> image) {
  io::ContentHash hash;
  for (int y = 0; y < image.height; ++y)
    hash.add(std::as_bytes(std::span(image.row(y), static_cast<std::size_t>(image.width))));
  return hash.text();
}

store::CalibrationMasterRecord record_of(const CalibrationMaster& m) {
  store::CalibrationMasterRecord r;
  r.kind = kind_named(m.kind);
  r.key = m.key;
  r.version = m.version;
  r.frames = m.frames;
  r.single_noise_adu = m.single_noise_adu;
  r.camera = m.camera;
  r.filter = m.filter;
  r.width = m.width;
  r.height = m.height;
  r.binning_x = m.binning_x;
  r.binning_y = m.binning_y;
  r.exposure_s = m.exposure_s;
  r.gain_setting = m.gain_setting;
  r.offset_setting = m.offset_setting;
  r.sensor_temperature_c = m.sensor_temperature_c;
  r.rotation_deg = m.rotation_deg;
  r.first = Instant::parse(m.first);
  r.last = Instant::parse(m.last);
  for (const CalibrationMasterFrame& f : m.calibration) r.recipe.inputs.push_back({"calibration", f.xxh3_128});
  return r;
}

}  // namespace ng::app
