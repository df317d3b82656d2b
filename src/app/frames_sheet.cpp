#include "app/frames_sheet.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <numeric>
#include <string>
#include <vector>

#include "io/canvas.h"

namespace ng::app {
namespace {

using io::Anchor;
using io::Canvas;
using io::Colour;
using io::Spot;
namespace palette = io::palette;

constexpr Colour kPaper{0.965, 0.965, 0.955};
constexpr Colour kFaint{0.80, 0.80, 0.79};
constexpr int kMargin = 28, kGap = 16, kCaption = 44, kTitle = 66, kChart = 380;
constexpr int kTallest = 15000;

struct Layout {
  int columns = 1, rows = 1;
  int cell_width = kThumbnailPx, cell_height = 0;
  [[nodiscard]] int width() const { return std::max(760, 2 * kMargin + columns * (cell_width + kGap) - kGap); }
  [[nodiscard]] int sheet_height() const { return rows * (cell_height + kCaption + kGap); }
};

// About as wide as high; more frames than fit make the thumbnails smaller.
Layout layout_of(std::span<const Light* const> lights) {
  double tallest = 0.3;  // height over width
  for (const Light* light : lights)
    if (!light->thumbnail.empty())
      tallest = std::max(tallest, light->thumbnail.height() / static_cast<double>(light->thumbnail.width()));
  const int n = std::max<int>(1, static_cast<int>(lights.size()));
  Layout l;
  for (;; l.cell_width = l.cell_width * 4 / 5) {
    l.cell_height = static_cast<int>(tallest * l.cell_width);
    l.columns = std::clamp(static_cast<int>(std::ceil(std::sqrt(1.2 * n))), 3, std::max(3, 2600 / l.cell_width));
    l.rows = (n + l.columns - 1) / l.columns;
    if (l.sheet_height() < kTallest - kTitle - kChart || l.cell_width < 70) return l;
  }
}

std::string shortened(Canvas& canvas, std::string text, double width, const io::TextStyle& style) {
  if (canvas.text_width(text, style) <= width) return text;
  while (!text.empty() && canvas.text_width(text + "\u2026", style) > width) {
    do text.pop_back();
    while (!text.empty() && (static_cast<unsigned char>(text.back()) & 0xC0) == 0x80);  // whole letters of UTF-8
  }
  return text + "\u2026";
}

void draw_frame(Canvas& canvas, const Light& light, double x, double y, const Layout& layout) {
  canvas.rectangle(x, y, layout.cell_width, layout.cell_height, {0.12, 0.12, 0.12});
  if (!light.thumbnail.empty())
    canvas.picture({x, y}, light.thumbnail.plane(), layout.cell_width / static_cast<double>(light.thumbnail.width()));
  const double bottom = y + layout.cell_height;
  const double w = layout.cell_width;
  if (light.accepted()) {
    canvas.rectangle(x, bottom + 3, w, 5, kFaint);
    canvas.rectangle(x, bottom + 3, w * std::clamp(light.worth, 0.0, 1.0), 5, palette::kBlue);
  } else {
    canvas.frame(x + 1, y + 1, w - 2, layout.cell_height - 2, {palette::kVermilion, 2});
    canvas.line(std::array{Spot{x, bottom}, Spot{x + w, y}}, {palette::kVermilion, 2});
  }
  const io::TextStyle name{11, palette::kBlack, Anchor::kLeft, true};
  const io::TextStyle said{11, light.accepted() ? Colour{0.25, 0.25, 0.25} : palette::kVermilion};
  canvas.text({x, bottom + 22}, shortened(canvas, light.input->path.stem().string(), w, name), name);
  const std::string verdict = light.accepted()
                                  ? fmt::format("worth {:.0f} %  FWHM {:.2f} px{}", 100 * light.worth,
                                                light.quality.fwhm_px, light.trails.empty() ? "" : "  trail")
                                  : "left out: " + light.reason;
  canvas.text({x, bottom + 37}, shortened(canvas, verdict, w, said), said);
}

// Decades and their 2 and 5 within a range.
std::vector<double> round_values(double low, double high) {
  assert(low > 0);
  std::vector<double> values;
  for (double decade = std::pow(10, std::floor(std::log10(low))); decade <= high; decade *= 10)
    for (const double step : {1.0, 2.0, 5.0})
      if (decade * step >= low && decade * step <= high) values.push_back(decade * step);
  return values;
}

// Both axes logarithmic: noise that falls with the root of the frames is a straight line.
void draw_noise(Canvas& canvas, const ReduceMaster& master, double left, double top, double width, double height) {
  const auto& curve = master.noise_curve;
  double low = 1e300, high = 0;
  for (const ReduceNoise& p : curve) {
    low = std::min({low, p.noise_e, p.predicted_noise_e});
    high = std::max({high, p.noise_e, p.predicted_noise_e});
  }
  const double first = curve.front().predicted_noise_e * std::sqrt(curve.front().frames);
  const double last = curve.back().frames;
  low = std::min(low, first / std::sqrt(last)) * 0.85;
  high *= 1.15;
  const auto at = [&](double frames, double noise) -> Spot {
    return {left + width * std::log(frames) / std::log(last),
            top + height * (1 - std::log(noise / low) / std::log(high / low))};
  };
  const Colour ink{0.25, 0.25, 0.25};
  std::vector<double> ticks = round_values(1, last / 1.15);
  ticks.push_back(last);
  for (const double n : ticks) {
    const Spot s = at(n, low);
    canvas.line(std::array{Spot{s.x, top}, s}, {kFaint, 1});
    canvas.text({s.x, s.y + 17}, fmt::format("{:g}", n), {12, ink, Anchor::kMiddle});
  }
  for (const double e : round_values(low, high)) {
    const Spot s = at(1, e);
    canvas.line(std::array{s, Spot{left + width, s.y}}, {kFaint, 1});
    canvas.text({left - 8, s.y + 4}, fmt::format("{:g}", e), {12, ink, Anchor::kRight});
  }
  canvas.text({left + width / 2, top + height + 36}, "frames, in the order of the night", {12, ink, Anchor::kMiddle});
  canvas.text({left - 46, top + height / 2}, fmt::format("noise of bare sky, {} per pixel", master.unit),
              {12, ink, Anchor::kMiddle, false, -90});

  std::vector<Spot> root, predicted;
  for (double t = 0; t <= 1; t += 1.0 / 64) root.push_back(at(std::pow(last, t), first / std::pow(last, t / 2)));
  for (const ReduceNoise& p : curve) predicted.push_back(at(p.frames, p.predicted_noise_e));
  canvas.line(root, {palette::kGrey, 1.2, true});
  canvas.line(predicted, {palette::kBlue, 1.6});
  for (const ReduceNoise& p : curve) canvas.disc(at(p.frames, p.noise_e), 4.5, palette::kVermilion);

  double y = top + 22;
  const double x = left + width - 250;
  canvas.rectangle(x - 12, y - 20, 262, 68, kPaper);
  const auto entry = [&](const char* words, auto&& draw) {
    draw(y - 4);
    canvas.text({x + 36, y}, words, {12, ink});
    y += 20;
  };
  entry("measured, between frames", [&](double m) { canvas.disc({x + 14, m}, 4.5, palette::kVermilion); });
  entry("predicted for these frames", [&](double m) {
    canvas.line(std::array{Spot{x, m}, Spot{x + 28, m}}, {palette::kBlue, 1.6});
  });
  entry("one frame / root of their number", [&](double m) {
    canvas.line(std::array{Spot{x, m}, Spot{x + 28, m}}, {palette::kGrey, 1.2, true});
  });
}

}  // namespace

Image<std::uint8_t> thumbnail(View<const float> picture, float sky, float noise) {
  const int block = std::max(
      {1, (picture.width + kThumbnailPx - 1) / kThumbnailPx, (picture.height + kThumbnailPx - 1) / kThumbnailPx});
  Image<std::uint8_t> small(std::max(1, picture.width / block), std::max(1, picture.height / block));
  // The scale of a single pixel's noise, not of the block's: else faint noise would look like cloud.
  const float unit = std::max(noise, 1e-6f);
  constexpr float kGrey = 60, kBrightest = 60;  // level of the sky; sigma that are white
  const int every = block > 4 ? 2 : 1;          // rows of a block: half of them tell enough
  const auto width = static_cast<std::size_t>(picture.width);
  std::vector<float> columns(width);
  for (int y = 0; y < small.height(); ++y) {
    std::fill(columns.begin(), columns.end(), 0.0f);
    int rows = 0;
    for (int v = y * block; v < std::min(picture.height, (y + 1) * block); v += every, ++rows) {
      const float* row = picture.row(v);
      for (std::size_t u = 0; u < width; ++u) columns[u] += row[u] - sky;
    }
    for (int x = 0; x < small.width(); ++x) {
      const auto first = columns.begin() + x * block;
      const float sum = std::accumulate(first, first + std::min(block, picture.width - x * block), 0.0f);
      const float sigmas = sum / static_cast<float>(block * rows) / unit;
      const float v = kGrey + (255 - kGrey) * std::asinh(2 * sigmas) / std::asinh(2 * kBrightest);
      small.plane()(x, y) = static_cast<std::uint8_t>(std::clamp(v, 0.0f, 255.0f));
    }
  }
  return small;
}

Result<io::AtomicFile> draw_frames_sheet(const std::filesystem::path& path, std::span<const Light* const> lights,
                                         const ReduceMaster& master, io::Overwrite overwrite) {
  const Layout layout = layout_of(lights);
  const bool curve = master.noise_curve.size() >= 2;
  NG_TRY(Canvas canvas,
         Canvas::create(path, layout.width(), kTitle + layout.sheet_height() + (curve ? kChart : kMargin), kPaper));
  canvas.text({kMargin, 36}, std::filesystem::path(master.path).stem().string(),
              {20, palette::kBlack, Anchor::kLeft, true});
  const auto left_out = lights.size() - static_cast<std::size_t>(master.frames_used);
  canvas.text({kMargin, 54},
              fmt::format("{} of {} frames used, {:.0f} min, worth {:.0f} min of the best one{}", master.frames_used,
                          lights.size(), master.exposure_s / 60, master.equivalent_min,
                          left_out > 0 ? "; crossed: left out" : ""),
              {12, {0.25, 0.25, 0.25}});
  for (std::size_t i = 0; i < lights.size(); ++i) {
    const int column = static_cast<int>(i) % layout.columns, row = static_cast<int>(i) / layout.columns;
    draw_frame(canvas, *lights[i], kMargin + column * (layout.cell_width + kGap),
               kTitle + row * (layout.cell_height + kCaption + kGap), layout);
  }
  if (curve) {
    const double top = kTitle + layout.sheet_height() + 20;
    draw_noise(canvas, master, kMargin + 66, top, std::min(900, layout.width() - 2 * kMargin - 66), kChart - 90);
  }
  return canvas.write(overwrite);
}

}  // namespace ng::app
