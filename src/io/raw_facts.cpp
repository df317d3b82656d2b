#include "io/raw_facts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <numeric>
#include <string>

#include "io/picture_source.h"

namespace ng::io {
namespace {

constexpr unsigned kFirstBayerCode = 1000;  // LibRaw: smaller values of `filters` are special mosaics, 9 is X-Trans

// The pattern of the first two visible rows; nothing when the four filters are not one red, one blue and two green.
std::optional<BayerPattern> pattern_of(LibRaw& raw) {
  std::string text;
  for (const auto& [x, y] : {std::pair{0, 0}, {1, 0}, {0, 1}, {1, 1}}) text += raw.imgdata.idata.cdesc[raw.COLOR(y, x)];
  return parse_bayer(text);
}

// LibRaw makes a time of the camera's clock as if it stood in this machine's zone; this takes the clock back out.
std::optional<Instant> camera_clock(std::time_t stamp) {
  std::tm clock{};
  if (stamp <= 0 || ::localtime_r(&stamp, &clock) == nullptr) return std::nullopt;
  return Instant::from_unix_us(static_cast<std::int64_t>(::timegm(&clock)) * 1'000'000);
}

void read_exposure(const libraw_imgother_t& other, FrameFacts& facts) {
  if (other.shutter > 0) facts.exposure_s = other.shutter;
  if (other.iso_speed > 0) facts.gain_setting = other.iso_speed;
  if (other.focal_len > 0) facts.focal_length_mm = other.focal_len;
  if (other.focal_len > 0 && other.aperture > 0) facts.aperture_mm = other.focal_len / other.aperture;
  facts.start = camera_clock(other.timestamp);
  if (facts.start) facts.warnings.emplace_back("the camera's clock states no time zone: taken as UTC");
}

void read_levels(LibRaw& raw, FrameFacts& facts) {
  const std::array<double, 4> black = black_levels(raw);
  facts.black_level_adu = std::accumulate(black.begin(), black.end(), 0.0) / 4;
  if (*std::max_element(black.begin(), black.end()) != *std::min_element(black.begin(), black.end()))
    facts.black_level_cell_adu = black;
  if (raw.imgdata.color.maximum > 0) facts.saturation_adu = raw.imgdata.color.maximum;
}

}  // namespace

std::array<double, 4> black_levels(LibRaw& raw) {
  const auto& color = raw.imgdata.color;
  const unsigned pattern_rows = color.cblack[4];
  const unsigned pattern_columns = color.cblack[5];
  std::array<double, 4> levels{};
  for (unsigned i = 0; i < 4; ++i) {
    const unsigned x = i % 2;
    const unsigned y = i / 2;
    const int channel = raw.imgdata.idata.filters == 0 ? 0 : raw.COLOR(static_cast<int>(y), static_cast<int>(x));
    levels[i] = color.black + color.cblack[channel];
    // The pattern repeats over the image: its mean over the cells of this parity.
    double sum = 0;
    int cells = 0;
    for (unsigned r = y; r < 2 * pattern_rows && pattern_columns > 0; r += 2) {
      for (unsigned c = x; c < 2 * pattern_columns; c += 2) {
        const std::size_t at = 6 + std::size_t{r % pattern_rows} * pattern_columns + c % pattern_columns;
        if (at >= LIBRAW_CBLACK_SIZE) continue;
        sum += color.cblack[at];
        ++cells;
      }
    }
    if (cells > 0) levels[i] += sum / cells;
  }
  return levels;
}

Result<FrameFacts> raw_facts(LibRaw& raw, const std::filesystem::path& path) {
  const auto& data = raw.imgdata;
  if (data.idata.is_foveon != 0)
    return Error(Code::kUnsupported,
                 "this raw file comes from a sensor with layered colours: only Bayer and grey are read");
  if (data.idata.filters != 0 && data.idata.filters < kFirstBayerCode)
    return Error(Code::kUnsupported, data.idata.filters == LIBRAW_XTRANS
                                         ? "this raw file has an X-Trans mosaic: only Bayer mosaics are read"
                                         : "this raw file has an unusual colour mosaic: only Bayer mosaics are read");
  if (data.idata.filters == 0 && data.idata.colors != 1)
    return Error(Code::kUnsupported, "this raw file is demosaiced already: convert it to TIFF");
  if (data.sizes.width == 0 || data.sizes.height == 0 || raw.is_fuji_rotated() != 0)
    return Error(Code::kUnsupported, "this raw file has no rectangular visible area");
  std::error_code ignored;
  NG_TRY(FrameFacts facts,
         picture_facts(path, data.sizes.width, data.sizes.height, 1, std::filesystem::file_size(path, ignored)));
  if (data.idata.filters != 0) {
    facts.bayer = pattern_of(raw);
    if (!facts.bayer)
      return Error(
          Code::kUnsupported,
          fmt::format("this raw file has the colours {}: only red, green and blue are read", data.idata.cdesc));
  }
  read_exposure(data.other, facts);
  read_levels(raw, facts);
  const float celsius = data.makernotes.common.SensorTemperature;
  if (celsius > -100 && celsius < 100 && celsius != 0) facts.sensor_temperature_c = celsius;
  facts.camera = fmt::format("{} {}", data.idata.make, data.idata.model);
  return facts;
}

Error raw_error(int code) {
  switch (code) {
    case LIBRAW_FILE_UNSUPPORTED:
    case LIBRAW_REQUEST_FOR_NONEXISTENT_IMAGE:
      return {Code::kUnsupported, "this is no picture file that is known here: FITS, camera raw, TIFF and PNG are"};
    case LIBRAW_UNSUFFICIENT_MEMORY:
      return {Code::kIo, "not enough memory for this raw file"};
    case LIBRAW_TOO_BIG:
      return {Code::kUnsupported, "this raw file is larger than can be read"};
    default:
      return {Code::kCorrupt, fmt::format("the raw file is cut off or damaged ({})", LibRaw::strerror(code))};
  }
}

}  // namespace ng::io
