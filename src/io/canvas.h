// io/canvas.h - drawings with lines and words: charts, sheets, cards. One code for PNG and SVG (cairo).
//
// Coordinates in pixels, x to the right, y downwards, (0, 0) the upper left corner of the picture. Nothing is written
// before write() or commit(); the file appears whole or not at all. The same drawing makes the same bytes as PNG;
// pictures and letters inside an SVG carry numbers that count up within the process.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string_view>

#include "base/image.h"
#include "base/result.h"
#include "io/atomic_file.h"
#include "io/overwrite.h"

namespace ng::io {

struct Colour {
  double r = 0, g = 0, b = 0;  // 0 to 1, sRGB
  double opacity = 1;
  [[nodiscard]] constexpr Colour with_opacity(double o) const { return {r, g, b, o}; }
};

// Told apart by colour-blind eyes too (Okabe & Ito 2008, Color Universal Design).
namespace palette {
inline constexpr Colour kBlack{0, 0, 0};
inline constexpr Colour kOrange{0.902, 0.624, 0};
inline constexpr Colour kSkyBlue{0.337, 0.706, 0.914};
inline constexpr Colour kGreen{0, 0.620, 0.451};
inline constexpr Colour kYellow{0.941, 0.894, 0.259};
inline constexpr Colour kBlue{0, 0.447, 0.698};
inline constexpr Colour kVermilion{0.835, 0.369, 0};
inline constexpr Colour kPurple{0.800, 0.475, 0.655};
inline constexpr Colour kGrey{0.45, 0.45, 0.45};
inline constexpr Colour kPaper{1, 1, 1};
}  // namespace palette

struct Spot {
  double x = 0, y = 0;
};

enum class Anchor { kLeft, kMiddle, kRight };

struct TextStyle {
  double size = 12;
  Colour colour = palette::kBlack;
  Anchor anchor = Anchor::kLeft;  // which part of the text stands at the spot; its baseline always does
  bool bold = false;
  double turn_deg = 0;  // clockwise
};

struct LineStyle {
  Colour colour = palette::kBlack;
  double width = 1;
  bool dashed = false;
};

class Canvas {
 public:
  // The extension decides: .png or .svg. Errors: kInvalidInput (size not within 1 to 16000), kUnsupported (another
  // extension).
  [[nodiscard]] static Result<Canvas> create(const std::filesystem::path& path, int width, int height, Colour paper);
  Canvas(Canvas&&) noexcept;
  Canvas& operator=(Canvas&&) noexcept;
  ~Canvas();

  // An open line through the spots; a spot that is not finite breaks it.
  void line(std::span<const Spot> spots, const LineStyle& style);
  void area(std::span<const Spot> corners, Colour fill);
  void rectangle(double x, double y, double width, double height, Colour fill);
  void frame(double x, double y, double width, double height, const LineStyle& style);
  void disc(Spot centre, double radius, Colour fill);
  void ring(Spot centre, double radius, const LineStyle& style);
  void text(Spot at, std::string_view words, const TextStyle& style);
  [[nodiscard]] double text_width(std::string_view words, const TextStyle& style);
  // A grey picture, one of its pixels `scale` wide.
  void picture(Spot corner, View<const std::uint8_t> grey, double scale);

  // The drawing ends here. The file is there once it is committed. Errors: kExists, kNotFound, kIo.
  [[nodiscard]] Result<AtomicFile> write(Overwrite overwrite);
  [[nodiscard]] Result<void> commit(Overwrite overwrite);

 private:
  struct Drawing;
  explicit Canvas(std::unique_ptr<Drawing> drawing);
  std::unique_ptr<Drawing> drawing_;
};

}  // namespace ng::io
