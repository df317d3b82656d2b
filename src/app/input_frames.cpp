#include "app/input_frames.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cstdio>
#include <iterator>
#include <map>
#include <memory>
#include <optional>

#include "app/calibration_master.h"
#include "app/folder_walk.h"
#include "base/parallel.h"
#include "io/content_hash.h"
#include "io/open_frame.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

bool plainly_no_frame(const fs::path& path) {
  std::string extension = path.extension().string();
  std::transform(extension.begin(), extension.end(), extension.begin(),
                 [](unsigned char c) { return std::tolower(c); });
  constexpr std::array<std::string_view, 12> kOthers = {".txt", ".md",  ".rst",  ".csv", ".json", ".toml",
                                                        ".log", ".xml", ".html", ".db",  ".pdf",  ".ini"};
  return path.filename().string().starts_with('.') ||
         std::find(kOthers.begin(), kOthers.end(), extension) != kOthers.end();
}

// Bytes: they are hashed while they lie in the second-level cache.
constexpr std::size_t kHashedAtOnce = std::size_t{256} << 10;

struct CloseFile {
  void operator()(std::FILE* f) const { std::fclose(f); }
};

// None where the file cannot be read to its end.
std::optional<std::string> hash_of(const fs::path& path) {
  const std::unique_ptr<std::FILE, CloseFile> file(std::fopen(path.c_str(), "rb"));
  if (file == nullptr) return std::nullopt;
  io::ContentHash hash;
  std::vector<std::byte> buffer(kHashedAtOnce);
  while (const std::size_t n = std::fread(buffer.data(), 1, buffer.size(), file.get()))
    hash.add(std::span(buffer).first(n));
  if (std::ferror(file.get()) != 0) return std::nullopt;
  return hash.text();
}

Result<void> read_headers(std::vector<InputFrame>& frames, const Context& ctx) {
  ctx.begin("reading headers", static_cast<std::int64_t>(frames.size()));
  return parallel_for(ctx, static_cast<int>(frames.size()), [&](int i) {
    InputFrame& f = frames[static_cast<std::size_t>(i)];
    const auto hash = hash_of(f.path);
    f.hash = hash.value_or("");
    auto opened = io::open_frame(f.path);
    if (opened.ok() && !hash) {
      f.reason = "cannot be read to its end: copy it anew from the card, or look after the disk";
    } else if (opened.ok()) {
      f.source = std::move(opened).value();
      f.kind = f.source->facts().kind;
    } else {
      f.reason = opened.error().message();
    }
    ctx.advance();
  });
}

void leave_out_doubles(std::vector<InputFrame>& frames) {
  std::map<std::string, const InputFrame*> seen;
  for (InputFrame& f : frames) {
    if (!f.usable()) continue;
    const auto [place, is_new] = seen.emplace(f.hash, &f);
    if (!is_new) f.reason = "same content as " + place->second->path.filename().string();
  }
}

}  // namespace

Result<std::vector<InputFrame>> collect_frames(const fs::path& folder, const fs::path& skip, const Context& ctx) {
  std::error_code error;
  if (!fs::is_directory(folder, error))
    return Error(Code::kNotFound,
                 fmt::format("{}: no such folder; name the folder that holds the night's files", folder.string()));
  std::vector<InputFrame> frames;
  for (const fs::path& path : files_of_night(folder, skip)) {
    if (plainly_no_frame(path) || is_calibration_master(path)) continue;
    frames.push_back({});
    frames.back().path = path;
  }
  if (frames.empty()) return Error(Code::kNotFound, fmt::format("{}: the folder holds no frames", folder.string()));

  NG_CHECK(read_headers(frames, ctx));
  leave_out_doubles(frames);
  return frames;
}

Result<void> add_frames(const std::vector<fs::path>& paths, std::vector<InputFrame>& frames, const Context& ctx) {
  std::vector<InputFrame> more(paths.size());
  for (std::size_t i = 0; i < paths.size(); ++i) more[i].path = paths[i];
  NG_CHECK(read_headers(more, ctx));
  std::move(more.begin(), more.end(), std::back_inserter(frames));
  leave_out_doubles(frames);
  return {};
}

std::string describe(const FrameFacts& facts) {
  std::string text = fmt::format("{}x{}", facts.width, facts.height);
  if (facts.exposure_s) text += fmt::format(", {:g} s", *facts.exposure_s);
  if (facts.gain_setting) text += fmt::format(", gain {:g}", *facts.gain_setting);
  if (facts.sensor_temperature_c) text += fmt::format(", {:.1f} C", *facts.sensor_temperature_c);
  if (!facts.filter.empty()) text += ", filter " + facts.filter;
  if (facts.binning_x > 1) text += fmt::format(", binning {}", facts.binning_x);
  return text;
}

}  // namespace ng::app
