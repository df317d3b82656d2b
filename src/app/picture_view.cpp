#include "app/picture_view.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>

#include "app/header_wcs.h"
#include "app/recipe_beside.h"
#include "base/angle.h"
#include "io/fits_source.h"
#include "io/open_frame.h"
#include "math/robust.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr int kBins = 256;

int halved(int n) {
  return (n + 1) / 2;
}

// Two rows above become one below; the second may be missing.
void halve_rows(const float* upper, const float* lower, int width, float* out) {
  for (int x = 0; x < halved(width); ++x) {
    float sum = 0;
    int n = 0;
    for (const float* row : {upper, lower}) {
      for (int k = 2 * x; row != nullptr && k < std::min(width, 2 * x + 2); ++k) {
        if (!std::isfinite(row[k])) continue;
        sum += row[k];
        ++n;
      }
    }
    out[x] = n > 0 ? sum / static_cast<float>(n) : std::numeric_limits<float>::quiet_NaN();
  }
}

std::unique_ptr<FrameSource> extension(const fs::path& path, const char* name, const FrameFacts& shape) {
  auto source = io::open_fits_image(path, name);
  if (!source.ok()) return nullptr;
  const FrameFacts& facts = (*source)->facts();
  if (facts.width != shape.width || facts.height != shape.height || facts.planes != shape.planes) return nullptr;
  return *std::move(source);
}

std::optional<double> finite(float value) {
  return std::isfinite(value) ? std::optional<double>(value) : std::nullopt;
}

}  // namespace

Result<std::shared_ptr<Picture>> Picture::open(const fs::path& path, PictureLayer layer, const Context& ctx) {
  std::shared_ptr<Picture> picture(new Picture());
  picture->layer_ = layer;
  NG_TRY(picture->source_, io::open_frame(path));
  const FrameFacts& facts = picture->source_->facts();
  picture->variance_ = extension(path, "VARIANCE", facts);
  picture->coverage_ = extension(path, "COVERAGE", facts);
  PictureFacts& f = picture->facts_;
  f.width = facts.width;
  f.height = facts.height;
  f.planes = facts.planes;
  f.object = facts.object;
  f.filter = facts.filter;
  f.unit = facts.calibrated || facts.electrons_per_adu == 1.0 ? "electron" : "adu";
  if (const auto recipe = recipe_beside(path)) {
    f.unit = "display";
    f.display_white = recipe->encode.bits == 16 ? 65535 : 255;
    f.left_px = recipe->crop.x_px.value_or(0);
    f.top_px = recipe->crop.y_px.value_or(0);
  }
  f.has_variance = picture->variance_ != nullptr;
  f.has_coverage = picture->coverage_ != nullptr;
  if ((layer == PictureLayer::kError && !f.has_variance) || (layer == PictureLayer::kCoverage && !f.has_coverage))
    return Error(Code::kNotFound,
                 fmt::format("{} has no layer '{}': masters have one", path.filename().string(), word_of(layer)));
  if (layer == PictureLayer::kCoverage) f.unit = "s";
  if (const auto wcs = picture_wcs(path); wcs.ok()) picture->wcs_ = *wcs;
  f.placed = picture->wcs_.has_value();
  NG_CHECK(picture->build(ctx));
  return picture;
}

Result<void> Picture::read(int plane, int y0, View<float> out) {
  FrameSource& source = layer_ == PictureLayer::kError      ? *variance_
                        : layer_ == PictureLayer::kCoverage ? *coverage_
                                                            : *source_;
  NG_CHECK(source.read_rows(plane, y0, out));
  for (int y = 0; y < out.height && layer_ == PictureLayer::kError; ++y)
    for (int x = 0; x < out.width; ++x) out.row(y)[x] = std::sqrt(out.row(y)[x]);
  return {};
}

std::size_t Picture::memory_bytes() const {
  std::size_t bytes = 0;
  for (const Image<float>& level : levels_)
    bytes += sizeof(float) * static_cast<std::size_t>(level.width()) * level.height() * facts_.planes;
  return bytes;
}

Result<void> Picture::build(const Context& ctx) {
  for (int w = facts_.width, h = facts_.height; std::max(w, h) > kTilePx;) {
    w = halved(w);
    h = halved(h);
    levels_.emplace_back(w, h, facts_.planes);
    ++facts_.levels;
  }
  constexpr int kBand = 128;
  Image<float> band(facts_.width, kBand);
  for (int plane = 0; plane < facts_.planes; ++plane) {
    for (int y0 = 0; y0 < facts_.height && !levels_.empty(); y0 += kBand) {
      if (ctx.cancelled()) return Error(Code::kCancelled, "stopped");
      const int rows = std::min(kBand, facts_.height - y0);
      NG_CHECK(read(plane, y0, band.plane().rows(0, rows)));
      for (int y = 0; y < rows; y += 2)
        halve_rows(band.plane().row(y), y + 1 < rows ? band.plane().row(y + 1) : nullptr, facts_.width,
                   levels_[0].plane(plane).row((y0 + y) / 2));
    }
    for (std::size_t k = 1; k < levels_.size(); ++k) {
      const auto from = levels_[k - 1].plane(plane);
      for (int y = 0; y < from.height; y += 2)
        halve_rows(from.row(y), y + 1 < from.height ? from.row(y + 1) : nullptr, from.width,
                   levels_[k].plane(plane).row(y / 2));
    }
    describe(plane);
  }
  return {};
}

// From every so many pixels of the image itself: means of four would have half the noise.
void Picture::describe(int plane) {
  std::vector<float> values;
  Image<float> row(facts_.width, 1);
  const int step = std::max(1, facts_.height / 300);
  const int step_x = std::max(1, facts_.width / 1000);
  for (int y = step / 2; y < facts_.height; y += step) {
    if (!read(plane, y, row.plane()).ok()) continue;
    for (int x = 0; x < facts_.width; x += step_x)
      if (std::isfinite(row.plane()(x, 0))) values.push_back(row.plane()(x, 0));
  }
  double sky = 0, noise = 1;
  if (!values.empty()) {
    sky = math::median(std::span<float>(values));
    std::vector<float> deviations = values;
    noise = std::max(1e-6, static_cast<double>(math::mad_sigma(std::span<float>(deviations), static_cast<float>(sky))));
  }
  facts_.sky.push_back(sky);
  facts_.noise.push_back(noise);
  std::vector<int> counts(kBins, 0);
  for (const float v : values) {
    const double u = std::asinh((static_cast<double>(v) - sky) / noise);
    const double place = (u - facts_.histogram_from) / (facts_.histogram_to - facts_.histogram_from) * kBins;
    ++counts[static_cast<std::size_t>(std::clamp(place, 0.0, kBins - 1.0))];
  }
  facts_.histogram.push_back(std::move(counts));
  std::sort(values.begin(), values.end());
  const auto at_share = [&](double share) {
    return values.empty() ? 0.0 : values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1))];
  };
  facts_.low.push_back(at_share(0.01));
  facts_.high.push_back(at_share(0.99));
}

Result<Image<float>> Picture::tile(int level, int column, int row, int plane) {
  const bool base = level == 0;
  const auto missing = [&] {
    return Error(Code::kNotFound,
                 fmt::format("there is no tile {}, {} of level {}, plane {}", column, row, level, plane));
  };
  if (level < 0 || level >= facts_.levels || plane < 0 || plane >= facts_.planes || column < 0 || row < 0)
    return missing();
  const int width = base ? facts_.width : levels_[static_cast<std::size_t>(level) - 1].width();
  const int height = base ? facts_.height : levels_[static_cast<std::size_t>(level) - 1].height();
  if (column > (width - 1) / kTilePx || row > (height - 1) / kTilePx) return missing();
  const int x0 = column * kTilePx, y0 = row * kTilePx;
  Image<float> tile(std::min(kTilePx, width - x0), std::min(kTilePx, height - y0));
  if (base) {
    Image<float> rows(width, tile.height());
    {
      const std::lock_guard lock(reading_);
      NG_CHECK(read(plane, y0, rows.plane()));
    }
    for (int y = 0; y < tile.height(); ++y) std::copy_n(rows.plane().row(y) + x0, tile.width(), tile.plane().row(y));
  } else {
    const auto from = levels_[static_cast<std::size_t>(level) - 1].plane(plane);
    for (int y = 0; y < tile.height(); ++y) std::copy_n(from.row(y0 + y) + x0, tile.width(), tile.plane().row(y));
  }
  return tile;
}

Result<PixelProbe> Picture::probe(int x, int y) {
  if (x < 0 || y < 0 || x >= facts_.width || y >= facts_.height)
    return Error(Code::kNotFound,
                 fmt::format("pixel {}, {} lies outside of {} x {}", x, y, facts_.width, facts_.height));
  PixelProbe probe;
  probe.x = x;
  probe.y = y;
  if (wcs_) {
    const SkyPlace place = wcs_->sky_of({static_cast<double>(x), static_cast<double>(y)});
    probe.ra_deg = rad_to_deg(place.ra_rad);
    probe.dec_deg = rad_to_deg(place.dec_rad);
  }
  Image<float> row(facts_.width, 1);
  const auto value = [&](FrameSource& source, int plane) -> Result<float> {
    NG_CHECK(source.read_rows(plane, y, row.plane()));
    return row.plane()(x, 0);
  };
  const std::lock_guard lock(reading_);
  for (int plane = 0; plane < facts_.planes; ++plane) {
    NG_TRY(const float v, value(*source_, plane));
    probe.value.push_back(finite(v));
    if (variance_) {
      NG_TRY(const float variance, value(*variance_, plane));
      probe.error.push_back(finite(std::sqrt(variance)));
    }
    if (coverage_) {
      NG_TRY(const float coverage, value(*coverage_, plane));
      probe.coverage_s.push_back(finite(coverage));
    }
  }
  return probe;
}

std::shared_ptr<Picture> PictureShelf::held(const fs::path& path, PictureLayer layer, fs::file_time_type changed) {
  const std::lock_guard lock(mutex_);
  const auto found = std::find_if(entries_.begin(), entries_.end(), [&](const Entry& e) {
    return e.path == path && e.layer == layer && e.changed == changed;
  });
  if (found == entries_.end()) return nullptr;
  entries_.splice(entries_.begin(), entries_, found);
  return entries_.front().picture;
}

// One picture is opened at a time; those that are open already wait for nobody.
Result<std::shared_ptr<Picture>> PictureShelf::open(const fs::path& path, PictureLayer layer, const Context& ctx) {
  std::error_code error;
  const auto changed = fs::last_write_time(path, error);
  if (error) return Error(Code::kNotFound, fmt::format("{}: no such file", path.filename().string()));
  if (auto picture = held(path, layer, changed)) return picture;
  const std::lock_guard opening(opening_);
  if (auto picture = held(path, layer, changed)) return picture;
  NG_TRY(auto picture, Picture::open(path, layer, ctx));
  const std::lock_guard lock(mutex_);
  std::size_t bytes = picture->memory_bytes();
  entries_.push_front({path, layer, changed, picture});
  for (auto it = std::next(entries_.begin()); it != entries_.end();) {
    bytes += it->picture->memory_bytes();
    it = bytes > budget_bytes_ ? entries_.erase(it) : std::next(it);
  }
  return picture;
}

}  // namespace ng::app
