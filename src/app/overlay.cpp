#include "app/overlay.h"

#include <algorithm>
#include <cmath>

#include "app/green_plane.h"
#include "io/canvas.h"
#include "io/open_frame.h"
#include "math/robust.h"

namespace ng::app {
namespace {

using io::Spot;
namespace palette = io::palette;

constexpr int kLargestSide = 1600;
constexpr double kTextSize = 15;
constexpr double kRoomForNames = 6;  // pixels around a name that no other may touch

// Means of blocks, the sky dark grey, bright things compressed (asinh; Lupton et al. 2004, PASP 116, 133).
Image<std::uint8_t> grey_picture(View<const float> image, int block) {
  Image<float> means(image.width / block, image.height / block);
  std::vector<float> sample;
  for (int y = 0; y < means.height(); ++y)
    for (int x = 0; x < means.width(); ++x) {
      double sum = 0;
      for (int j = 0; j < block; ++j)
        for (int i = 0; i < block; ++i) sum += image(x * block + i, y * block + j);
      means.plane()(x, y) = static_cast<float>(sum / (block * block));
      if ((x + y) % 3 == 0 && std::isfinite(sum)) sample.push_back(means.plane()(x, y));
    }
  Image<std::uint8_t> grey(means.width(), means.height());
  if (sample.empty()) return grey;
  const math::SkyLevel sky = math::sky_level(sample);
  const double unit = std::max(1e-6F, sky.sigma) * 3, top = std::asinh(150.0);
  for (int y = 0; y < grey.height(); ++y)
    for (int x = 0; x < grey.width(); ++x) {
      const float v = means.plane()(x, y);
      const double t = std::isfinite(v) ? 0.12 + 0.88 * std::asinh((v - sky.level) / unit) / top : 0;
      grey.plane()(x, y) = static_cast<std::uint8_t>(std::lround(255 * std::clamp(t, 0.0, 1.0)));
    }
  return grey;
}

struct Box {
  double x0, y0, x1, y1;
  [[nodiscard]] bool meets(const Box& o) const { return x0 < o.x1 && o.x0 < x1 && y0 < o.y1 && o.y0 < y1; }
};

class Overlay {
 public:
  Overlay(io::Canvas& canvas, double scale, int width, int height)
      : canvas_(canvas), scale_(scale), width_(width), height_(height) {}

  void draw(const FrameAnnotation& a) {
    for (const AnnotatedLine& line : a.grid) grid_line(line);
    compass(a);
    scale_bar(a);
    for (const AnnotatedObject& o : a.objects) object(o);
    for (const AnnotatedStar& s : a.stars) star(s);
  }

 private:
  [[nodiscard]] Spot spot(double x, double y) const { return {(x + 0.5) * scale_, (y + 0.5) * scale_}; }

  void words(Spot at, std::string_view text, io::TextStyle style) {
    io::TextStyle shade = style;
    shade.colour = palette::kBlack.with_opacity(0.7);
    for (const auto& [dx, dy] : {std::pair{1.0, 1.0}, {-1.0, 1.0}, {1.0, -1.0}, {-1.0, -1.0}})
      canvas_.text({at.x + dx, at.y + dy}, text, shade);
    canvas_.text(at, text, style);
  }

  [[nodiscard]] bool free(const Box& box) const {
    if (box.x0 < 0 || box.y0 < 0 || box.x1 > width_ || box.y1 > height_) return false;
    return std::none_of(taken_.begin(), taken_.end(), [&](const Box& t) { return t.meets(box); });
  }

  // The name where there is room for it; small neighbours of a named one go without.
  void name(Spot wanted, std::string_view text, const io::TextStyle& style) {
    const double w = canvas_.text_width(text, style);
    for (const double dy : {0.0, style.size + 4, -style.size - 4}) {
      const Spot at{wanted.x, wanted.y + dy};
      const double left = style.anchor == io::Anchor::kMiddle  ? at.x - w / 2
                          : style.anchor == io::Anchor::kRight ? at.x - w
                                                               : at.x;
      const Box box{left - kRoomForNames, at.y - style.size, left + w + kRoomForNames, at.y + 4};
      if (!free(box)) continue;
      taken_.push_back(box);
      words(at, text, style);
      return;
    }
  }

  void grid_line(const AnnotatedLine& line) {
    const io::LineStyle style{palette::kSkyBlue.with_opacity(0.55), 1, false};
    for (const PixelLine& piece : line.pieces) {
      std::vector<Spot> spots;
      for (const auto& p : piece) spots.push_back(spot(p[0], p[1]));
      canvas_.line(spots, style);
    }
    if (line.pieces.empty()) return;
    // At the end that lies lower, or further to the left.
    const auto& piece = line.pieces.front();
    const Spot a = spot(piece.front()[0], piece.front()[1]), b = spot(piece.back()[0], piece.back()[1]);
    const Spot end = a.y - 0.5 * a.x > b.y - 0.5 * b.x ? a : b;
    const io::TextStyle text{kTextSize - 2, palette::kSkyBlue,
                             end.x > width_ / 2.0 ? io::Anchor::kRight : io::Anchor::kLeft, false, 0};
    name({end.x + (end.x > width_ / 2.0 ? -6 : 6), std::clamp(end.y - 5, 16.0, height_ - 6.0)}, line.label, text);
  }

  void object(const AnnotatedObject& o) {
    const io::LineStyle style{palette::kOrange, 1.4, !o.round};
    const double shown = std::max(o.radius_px * scale_, 7.0);
    const Spot centre = spot(o.x, o.y);
    if (o.radius_px * scale_ > 7) {
      std::vector<Spot> spots;
      for (const auto& p : o.outline) spots.push_back(spot(p[0], p[1]));
      spots.push_back(spots.front());
      canvas_.line(spots, style);
    } else {
      canvas_.ring(centre, 7, style);
    }
    name({std::clamp(centre.x, 40.0, width_ - 40.0), std::clamp(centre.y - shown - 5, 18.0, height_ - 8.0)}, o.name,
         {kTextSize, palette::kOrange, io::Anchor::kMiddle, false, 0});
  }

  // A name beside the star, which needs no mark of its own.
  void star(const AnnotatedStar& s) {
    const Spot at = spot(s.x, s.y);
    const bool left = at.x > width_ - 140.0;
    name({at.x + (left ? -9 : 9), at.y + 5}, s.name,
         {kTextSize - 1, palette::kPaper, left ? io::Anchor::kRight : io::Anchor::kLeft, false, 0});
  }

  void compass(const FrameAnnotation& a) {
    const Spot foot{width_ - 70.0, 70};
    for (const auto& [direction, letter] : {std::pair{a.north, "N"}, {a.east, "E"}}) {
      const Spot tip{foot.x + 38 * direction[0], foot.y + 38 * direction[1]};
      canvas_.line(std::array{foot, tip}, {palette::kPaper, 2, false});
      words({foot.x + 52 * direction[0], foot.y + 52 * direction[1] + 5}, letter,
            {kTextSize, palette::kPaper, io::Anchor::kMiddle, true, 0});
    }
    taken_.push_back({foot.x - 65, foot.y - 65, foot.x + 65, foot.y + 65});
  }

  void scale_bar(const FrameAnnotation& a) {
    const double length = a.scale_bar_px * scale_, right = width_ - 24.0, y = height_ - 26.0;
    canvas_.line(std::array{Spot{right - length, y}, Spot{right, y}}, {palette::kPaper, 3, false});
    words({right - length / 2, y - 8}, a.scale_bar_label, {kTextSize, palette::kPaper, io::Anchor::kMiddle, true, 0});
    taken_.push_back({right - length, y - 26, right, y + 6});
  }

  io::Canvas& canvas_;
  double scale_;
  int width_, height_;
  std::vector<Box> taken_;
};

}  // namespace

Result<void> draw_overlay(const std::filesystem::path& frame, std::optional<BayerPattern> bayer,
                          const FrameAnnotation& annotation, const std::filesystem::path& path,
                          io::Overwrite overwrite) {
  NG_TRY(const std::unique_ptr<FrameSource> source, io::open_frame(frame));
  const FrameFacts& facts = source->facts();
  NG_TRY(Image<float> image, read_plane(*source, facts.planes == 3 ? 1 : 0).in(frame.string()));
  if (const auto pattern = facts.mosaic(bayer)) image = green_plane(image.plane(), *pattern);
  const int longer = std::max(image.width(), image.height()), block = (longer + kLargestSide - 1) / kLargestSide;
  const Image<std::uint8_t> grey = grey_picture(image.plane(), block);
  // Small frames are drawn larger, so that names have room.
  const double zoom = std::clamp(std::floor(1000.0 * block / longer), 1.0, 8.0);
  const int width = static_cast<int>(grey.width() * zoom), height = static_cast<int>(grey.height() * zoom);
  NG_TRY(io::Canvas canvas, io::Canvas::create(path, width, height, palette::kBlack));
  canvas.picture({0, 0}, grey.plane(), zoom);
  Overlay(canvas, zoom / block, width, height).draw(annotation);
  return canvas.commit(overwrite);
}

}  // namespace ng::app
