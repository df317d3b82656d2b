#include "app/rehearse_files.h"

#include <fmt/format.h>

#include <cmath>

#include "base/angle.h"
#include "io/fits_writer.h"
#include "math/random.h"

namespace ng::app {
namespace {

using io::FitsCard;

const char* image_type(FrameKind kind) {
  switch (kind) {
    case FrameKind::kLight:
      return "Light Frame";
    case FrameKind::kDark:
      return "Dark Frame";
    case FrameKind::kFlat:
      return "Flat Frame";
    case FrameKind::kBias:
      return "Bias Frame";
    case FrameKind::kDarkFlat:
      return "Dark Flat";
    case FrameKind::kUnknown:
      break;
  }
  return "unknown";
}

double seconds_of(const simulate::Scenario& s, const RehearsedFrame& frame) {
  switch (frame.kind) {
    case FrameKind::kBias:
      return 0;
    case FrameKind::kFlat:
      return s.exposures.flat_seconds(frame.number);
    case FrameKind::kDark:
      return s.exposures.dark_seconds(frame.number);
    case FrameKind::kDarkFlat:
      return s.exposures.flat_s;
    default:
      return s.exposures.light_s;
  }
}

// Flats at dusk before the lights; bias, darks and dark-flats after them.
Instant start_of(const simulate::Night& night, const RehearsedFrame& frame) {
  const auto& e = night.scenario().exposures;
  const auto& lights = night.lights();
  if (frame.light >= 0) return lights[static_cast<std::size_t>(frame.light)].start;
  const Instant noon = Instant::parse(e.evening)->plus_seconds(43200 - night.scenario().site.longitude_deg * 240);
  const Instant dusk = lights.empty() ? noon.plus_seconds(6 * 3600) : lights.front().start.plus_seconds(-3600);
  const Instant dawn =
      lights.empty() ? noon.plus_seconds(12 * 3600) : lights.back().start.plus_seconds(e.light_s + 120);
  const int n = frame.number - 1;
  switch (frame.kind) {
    case FrameKind::kFlat:
      return dusk.plus_seconds((frame.filter * e.flat_count() + n) * (e.flat_s + 4));
    case FrameKind::kBias:
      return dawn.plus_seconds(n * 3.0);
    case FrameKind::kDarkFlat:
      return dawn.plus_seconds(e.bias * 3.0 + 10 + n * (e.flat_s + 4));
    default:
      return dawn.plus_seconds(e.bias * 3.0 + 20 + e.dark_flats * (e.flat_s + 4) + n * (e.light_s + 4));
  }
}

std::vector<FitsCard> cards_of(const simulate::Night& night, const RehearsedFrame& frame) {
  const simulate::Scenario& s = night.scenario();
  const rig::Sensor& sensor = s.camera.sensor;
  const Instant start = start_of(night, frame);
  const double seconds = seconds_of(s, frame);
  // The cooler holds its set point to a tenth of a degree.
  const double wander = 0.1 * std::sin(0.37 * static_cast<double>(start.unix_us() / 60000000 % 10000));
  std::vector<FitsCard> cards{
      {"IMAGETYP", std::string(image_type(frame.kind)), "kind of frame"},
      {"EXPTIME", seconds, "[s] exposure time"},
      {"EXPOSURE", seconds, "[s] exposure time"},
      {"DATE-OBS", start.iso(), "UTC, start of exposure"},
      {"INSTRUME", sensor.name, "camera"},
      {"GAIN", static_cast<std::int64_t>(std::lround(s.camera.gain_setting)), "gain setting of the camera"},
      {"OFFSET", static_cast<std::int64_t>(std::lround(s.camera.offset_setting)), "offset setting of the camera"},
      {"EGAIN", sensor.gain_e_adu, "[e-/adu] electrons per ADU"},
      {"RDNOISE", sensor.read_noise_e, "[e-] read noise"},
      {"CCD-TEMP", std::round((s.camera.temperature_c + wander) * 10) / 10, "[deg C] sensor temperature"},
      {"SET-TEMP", s.camera.temperature_c, "[deg C] set point of the cooler"},
      {"XPIXSZ", sensor.pixel_um, "[um] pixel size, binning included"},
      {"YPIXSZ", sensor.pixel_um, "[um] pixel size, binning included"},
      {"XBINNING", std::int64_t{1}, "binning"},
      {"YBINNING", std::int64_t{1}, "binning"},
      {"ROWORDER", std::string("TOP-DOWN"), "the first row is the top of the picture"},
  };
  if (sensor.bayer) {
    cards.push_back({"BAYERPAT", std::string(to_string(*sensor.bayer)), "colours of the mosaic from the first pixel"});
    cards.push_back({"XBAYROFF", std::int64_t{0}, "offset of the mosaic"});
    cards.push_back({"YBAYROFF", std::int64_t{0}, "offset of the mosaic"});
  }
  if (frame.kind == FrameKind::kLight || frame.kind == FrameKind::kFlat) {
    cards.push_back({"TELESCOP", s.optics.name, "telescope"});
    cards.push_back({"FOCALLEN", s.optics.effective_focal_length_mm(), "[mm] focal length"});
    cards.push_back({"APTDIA", s.optics.aperture_mm, "[mm] clear aperture"});
    if (!s.is_mosaic())
      cards.push_back({"FILTER", s.filters[static_cast<std::size_t>(frame.filter)].filter.name, "filter"});
  }
  cards.push_back({"SITELAT", s.site.latitude_deg, "[deg] latitude, north positive"});
  cards.push_back({"SITELONG", s.site.longitude_deg, "[deg] longitude, east positive"});
  cards.push_back({"SITEELEV", s.site.elevation_m, "[m] height above the sea"});
  if (frame.light >= 0) {
    const simulate::LightPlan& plan = night.lights()[static_cast<std::size_t>(frame.light)];
    cards.push_back({"OBJECT", s.target.name, "target"});
    cards.push_back({"RA", plan.mount_ra_deg, "[deg] pointing as the mount believes, J2000"});
    cards.push_back({"DEC", plan.mount_dec_deg, "[deg] pointing as the mount believes, J2000"});
    cards.push_back({"AIRMASS", plan.airmass, "at the middle of the exposure"});
    cards.push_back(
        {"PIERSIDE", std::string(plan.flipped ? "WEST" : "EAST"), "side of the pier that the telescope is on"});
  }
  cards.push_back({"COMMENT", std::string("Rendered in a rehearsal of a night: not a picture of the real sky."), ""});
  return cards;
}

}  // namespace

std::vector<RehearsedFrame> frames_of(const simulate::Night& night) {
  const simulate::Scenario& s = night.scenario();
  std::vector<RehearsedFrame> frames;
  const auto name = [&](const char* kind, int filter, int number) -> std::filesystem::path {
    if (filter < 0 || s.is_mosaic()) return fmt::format("{}/{}_{:04d}.fits", kind, kind, number);
    return fmt::format("{}/{}_{}_{:04d}.fits", kind, kind, s.filters[static_cast<std::size_t>(filter)].filter.name,
                       number);
  };
  for (std::size_t i = 0; i < night.lights().size(); ++i) {
    const simulate::LightPlan& p = night.lights()[i];
    frames.push_back({FrameKind::kLight, p.filter, p.number, static_cast<int>(i), name("light", p.filter, p.number)});
  }
  const auto add = [&](FrameKind kind, const char* word, int filter, int count) {
    for (int n = 1; n <= count; ++n) frames.push_back({kind, std::max(filter, 0), n, -1, name(word, filter, n)});
  };
  add(FrameKind::kDark, "dark", -1, s.exposures.dark_count());
  for (std::size_t f = 0; f < s.filters.size(); ++f)
    add(FrameKind::kFlat, "flat", static_cast<int>(f), s.exposures.flat_count());
  add(FrameKind::kBias, "bias", -1, s.exposures.bias);
  add(FrameKind::kDarkFlat, "dark-flat", -1, s.exposures.dark_flats);
  return frames;
}

Result<void> write_frame(const simulate::Night& night, const RehearsedFrame& frame, const std::filesystem::path& out,
                         const Context& ctx) {
  const rig::Sensor& sensor = night.scenario().camera.sensor;
  NG_TRY(io::FitsWriter writer, io::FitsWriter::create(out / frame.path, io::Overwrite::kRefuse));
  io::FitsImageSpec spec;
  spec.width = sensor.width;
  spec.height = sensor.height;
  spec.pixel = io::FitsPixel::kUint16;
  spec.cards = cards_of(night, frame);
  NG_TRY(const int hdu, writer.add_image(spec));
  const auto sink = [&](int y0, View<const std::uint16_t> rows) { return writer.write_rows(hdu, 0, y0, rows); };
  if (frame.light >= 0) {
    NG_CHECK(night.render_light(frame.light, ctx, sink));
  } else {
    NG_CHECK(night.render_calibration(frame.kind, frame.filter, frame.number, ctx, sink));
  }
  return writer.commit();
}

Result<void> write_truth_image(const simulate::Night& night, const RehearsedFrame& frame,
                               const std::filesystem::path& path, const Context& ctx) {
  const simulate::Scenario& s = night.scenario();
  NG_TRY(io::FitsWriter writer, io::FitsWriter::create(path, io::Overwrite::kRefuse));
  io::FitsImageSpec spec;
  spec.width = s.camera.sensor.width;
  spec.height = s.camera.sensor.height;
  spec.cards = {{"IMAGETYP", std::string("noiseless truth"), "stars and nebula alone"},
                {"BUNIT", std::string("electron"), "in one sub-exposure at airmass 1, clear air"},
                {"EXPTIME", s.exposures.light_s, "[s] exposure time"},
                {"OBJECT", s.target.name, "target"},
                {"COMMENT", "Pixel grid and star profile of " + frame.path.filename().string() + ".", ""}};
  NG_TRY(const int hdu, writer.add_image(spec));
  NG_CHECK(night.render_truth(frame.light, ctx,
                              [&](int y0, View<const float> rows) { return writer.write_rows(hdu, 0, y0, rows); }));
  return writer.commit();
}

}  // namespace ng::app
