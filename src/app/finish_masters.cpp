#include "app/finish_masters.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>
#include <mutex>

#include "base/parallel.h"
#include "finish/crop.h"
#include "finish/holes.h"
#include "finish/sampling.h"
#include "io/byte_source.h"
#include "io/content_hash.h"
#include "io/fits_source.h"
#include "io/open_frame.h"
#include "math/robust.h"

namespace ng::app {
namespace {

constexpr int kBand = 128;

Error stopped() {
  return {Code::kCancelled, "stopped on request"};
}

Result<std::string> xxh128_of(const std::filesystem::path& path, const Context& ctx) {
  NG_TRY(const auto bytes, io::open_plain_bytes(path));
  io::ContentHash hash;
  std::vector<std::byte> block(std::size_t{1} << 20);
  for (std::uint64_t at = 0;;) {
    if (ctx.cancelled()) return stopped();
    NG_TRY(const std::size_t n, bytes->read_at(at, block));
    hash.add(std::span(block).first(n));
    at += n;
    if (n < block.size()) break;
  }
  return hash.text();
}

// A region of one plane.
Result<Image<float>> read_region(FrameSource& source, int plane, const Region& region, const Context& ctx) {
  const int width = source.facts().width;
  Image<float> out(region.width, region.height);
  Image<float> band(width, std::min(kBand, region.height));
  const bool whole_rows = region.width == width;
  for (int y = 0; y < region.height; y += kBand) {
    if (ctx.cancelled()) return stopped();
    const int rows = std::min(kBand, region.height - y);
    const View<float> to = whole_rows ? out.plane().rows(y, rows) : band.plane().rows(0, rows);
    NG_CHECK(source.read_rows(plane, region.y0 + y, to));
    for (int i = 0; i < rows && !whole_rows; ++i)
      std::copy_n(band.plane().row(i) + region.x0, region.width, out.plane().row(y + i));
    ctx.advance(rows);
  }
  return out;
}

Result<std::unique_ptr<FrameSource>> open_extension(const std::filesystem::path& path, const std::string& name,
                                                    const FrameFacts& shape) {
  NG_TRY(auto source, io::open_fits_image(path, name));
  const FrameFacts& facts = source->facts();
  if (facts.width != shape.width || facts.height != shape.height || (facts.planes != 1 && facts.planes != shape.planes))
    return Error(Code::kCorrupt, fmt::format("{}: {} has another size than the image", path.string(), name));
  return source;
}

// Where an extension is missing, that is no error.
bool absent(const Result<std::unique_ptr<FrameSource>>& source) {
  return !source.ok() && source.error().code() == Code::kNotFound;
}

float sky_variance(View<const float> image) {
  std::vector<float> values = finish::sample(image, 400000);
  if (values.empty()) return 1;
  const float sigma = math::sky_level(values).sigma;
  return std::max(sigma * sigma, 1e-12f);
}

// Variances that are no variances become holes, to be bridged like the others.
void drop_impossible(View<float> variance) {
  for (int y = 0; y < variance.height; ++y) {
    float* row = variance.row(y);
    for (int x = 0; x < variance.width; ++x)
      if (!(row[x] > 0) || !std::isfinite(row[x])) row[x] = std::numeric_limits<float>::quiet_NaN();
  }
}

void finite_to_one(View<float> image) {
  for (int y = 0; y < image.height; ++y) {
    float* row = image.row(y);
    for (int x = 0; x < image.width; ++x) row[x] = std::isfinite(row[x]) ? 1.0f : 0.0f;
  }
}

void drop_infinite(View<float> image) {
  for (int y = 0; y < image.height; ++y) {
    float* row = image.row(y);
    for (int x = 0; x < image.width; ++x)
      if (!std::isfinite(row[x])) row[x] = std::numeric_limits<float>::quiet_NaN();
  }
}

// One plane with its variance, holes bridged.
Result<Channel> load_channel(FrameSource& image, FrameSource* variance, int plane, const Region& region,
                             const Context& ctx) {
  Channel channel;
  NG_TRY(channel.image, read_region(image, plane, region, ctx));
  drop_infinite(channel.image.plane());
  if (variance != nullptr) {
    NG_TRY(channel.variance, read_region(*variance, std::min(plane, variance->facts().planes - 1), region, ctx));
    drop_impossible(channel.variance.plane());
    finish::fill_holes(channel.variance.plane());
  } else {
    channel.variance = Image<float>(region.width, region.height, 1, sky_variance(channel.image.plane()));
  }
  if (finish::fill_holes(channel.image.plane()) == region.width * region.height)
    return Error(Code::kTooFew, "no pixel of the master has a value here");
  return channel;
}

}  // namespace

Result<MasterSet> MasterSet::open(const std::vector<std::filesystem::path>& paths, const Context& ctx) {
  if (paths.empty())
    return Error(Code::kInvalidInput, "no master is given: name one colour master or several mono ones");
  MasterSet set;
  ctx.begin("recognising masters", static_cast<std::int64_t>(paths.size()));
  for (const auto& path : paths) {
    NG_TRY(const auto source, io::open_frame(path));
    const FrameFacts& facts = source->facts();
    if (facts.bayer && facts.planes == 1)
      return Error(
          Code::kUnsupported,
          fmt::format("{}: this is a frame from a colour sensor before demosaicing, not a master: reduce first",
                      path.string()));
    if (set.masters_.empty()) {
      set.width_ = facts.width;
      set.height_ = facts.height;
    } else if (facts.width != set.width_ || facts.height != set.height_) {
      return Error(
          Code::kNoMatch,
          fmt::format("{} has {} x {} pixels and {} has {} x {}: masters of one picture lie on one grid (reduce "
                      "makes them so when all filters are in one folder)",
                      path.string(), facts.width, facts.height, paths[0].string(), set.width_, set.height_));
    }
    Master master{path, {facts.filter}};
    if (facts.planes == 3) master.filters = {"R", "G", "B"};
    if (facts.planes == 1 && facts.filter.empty() && paths.size() > 1)
      return Error(Code::kInvalidInput,
                   fmt::format("{}: the header names no FILTER, so its colour is not known", path.string()));
    set.inputs_.push_back({path.string(), facts.filter, ""});
    set.masters_.push_back(std::move(master));
  }
  NG_CHECK(parallel_for(ctx, static_cast<int>(paths.size()), [&](int i) -> Result<void> {
    const auto k = static_cast<std::size_t>(i);
    NG_TRY(set.inputs_[k].xxh128, xxh128_of(paths[k], ctx));
    ctx.advance();
    return {};
  }));
  return set;
}

Result<Image<float>> MasterSet::common_coverage(const Context& ctx) const {
  Image<float> common(width_, height_, 1, 1.0f);
  std::mutex folding;  // the smaller of two does not depend on their order
  ctx.begin("reading coverage", std::int64_t{height_} * static_cast<std::int64_t>(masters_.size()));
  NG_CHECK(parallel_for(ctx, static_cast<int>(masters_.size()), [&](int i) -> Result<void> {
    const Master& master = masters_[static_cast<std::size_t>(i)];
    NG_TRY(const auto image, io::open_frame(master.path));
    auto source = open_extension(master.path, "COVERAGE", image->facts());
    if (!source.ok() && !absent(source)) return std::move(source).error();
    FrameSource& from = source.ok() ? **source : *image;
    for (int plane = 0; plane < from.facts().planes; ++plane) {
      NG_TRY(Image<float> coverage, read_region(from, plane, {0, 0, width_, height_}, ctx));
      if (!source.ok()) finite_to_one(coverage.plane());
      const std::lock_guard lock(folding);
      finish::fold_coverage(coverage.plane(), common.plane());
    }
    return {};
  }));
  return common;
}

Result<std::vector<Channel>> MasterSet::load(const Region& region, std::vector<std::string>& notes,
                                             const Context& ctx) const {
  const auto count = static_cast<int>(masters_.size());
  std::vector<std::vector<Channel>> loaded(masters_.size());
  std::vector<std::string> remarks(masters_.size());
  std::int64_t planes = 0;
  for (const Master& master : masters_) planes += 2 * static_cast<std::int64_t>(master.filters.size());
  ctx.begin("reading masters", planes * region.height);
  NG_CHECK(parallel_for(ctx, count, [&](int i) -> Result<void> {
    const Master& master = masters_[static_cast<std::size_t>(i)];
    NG_TRY(const auto image, io::open_frame(master.path));
    auto variance = open_extension(master.path, "VARIANCE", image->facts());
    if (!variance.ok() && !absent(variance)) return std::move(variance).error();
    if (!variance.ok())
      remarks[static_cast<std::size_t>(i)] = fmt::format(
          "{} has no VARIANCE: the noise of its sky was taken for all pixels", master.path.filename().string());
    for (int plane = 0; plane < static_cast<int>(master.filters.size()); ++plane) {
      NG_TRY(Channel channel, load_channel(*image, variance.ok() ? variance->get() : nullptr, plane, region, ctx));
      channel.filter = master.filters[static_cast<std::size_t>(plane)];
      loaded[static_cast<std::size_t>(i)].push_back(std::move(channel));
    }
    return {};
  }));
  std::vector<Channel> channels;
  for (std::size_t i = 0; i < masters_.size(); ++i) {
    for (Channel& channel : loaded[i]) channels.push_back(std::move(channel));
    if (!remarks[i].empty()) notes.push_back(remarks[i]);
  }
  return channels;
}

}  // namespace ng::app
