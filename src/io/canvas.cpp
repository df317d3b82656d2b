#include "io/canvas.h"

#include <cairo-svg.h>
#include <cairo.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <cstddef>
#include <cstring>
#include <numbers>
#include <string>
#include <vector>

#include "base/image.h"
#include "io/atomic_file.h"
#include "io/picture_formats.h"

namespace ng::io {
namespace {

struct Destroy {
  void operator()(cairo_t* c) const { cairo_destroy(c); }
  void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
};
using Surface = std::unique_ptr<cairo_surface_t, Destroy>;
using Pen = std::unique_ptr<cairo_t, Destroy>;

cairo_status_t append(void* bytes, const unsigned char* data, unsigned length) {
  auto& out = *static_cast<std::vector<std::byte>*>(bytes);
  const auto* first = reinterpret_cast<const std::byte*>(data);
  out.insert(out.end(), first, first + length);
  return CAIRO_STATUS_SUCCESS;
}

void choose(cairo_t* pen, Colour c) {
  cairo_set_source_rgba(pen, c.r, c.g, c.b, c.opacity);
}

void stroke(cairo_t* pen, const LineStyle& style) {
  choose(pen, style.colour);
  cairo_set_line_width(pen, style.width);
  const double dashes[] = {4 * style.width, 3 * style.width};
  cairo_set_dash(pen, dashes, style.dashed ? 2 : 0, 0);
  cairo_stroke(pen);
}

void choose_font(cairo_t* pen, const TextStyle& style) {
  cairo_select_font_face(pen, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                         style.bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(pen, style.size);
}

// Red, green and blue of a drawing, 0 to 65535.
Image<std::uint16_t> colours_of(cairo_surface_t* surface) {
  Image<std::uint16_t> colours(cairo_image_surface_get_width(surface), cairo_image_surface_get_height(surface), 3);
  const unsigned char* data = cairo_image_surface_get_data(surface);
  const int stride = cairo_image_surface_get_stride(surface);
  for (int y = 0; y < colours.height(); ++y) {
    for (int x = 0; x < colours.width(); ++x) {
      std::uint32_t rgb = 0;
      std::memcpy(&rgb, data + static_cast<std::ptrdiff_t>(y) * stride + 4 * x, sizeof rgb);
      for (int p = 0; p < 3; ++p)
        colours.plane(p)(x, y) = static_cast<std::uint16_t>(257 * (rgb >> (16 - 8 * p) & 255));
    }
  }
  return colours;
}

}  // namespace

struct Canvas::Drawing {
  std::filesystem::path path;
  bool vector = false;
  std::vector<std::byte> bytes;  // of the file; must stay where it is while the surface lives
  Surface surface;
  Pen pen;
};

Canvas::Canvas(std::unique_ptr<Drawing> drawing) : drawing_(std::move(drawing)) {}
Canvas::Canvas(Canvas&&) noexcept = default;
Canvas& Canvas::operator=(Canvas&&) noexcept = default;
Canvas::~Canvas() = default;

Result<Canvas> Canvas::create(const std::filesystem::path& path, int width, int height, Colour paper) {
  constexpr int kLargest = 16000;
  if (width < 1 || height < 1 || width > kLargest || height > kLargest)
    return Error(Code::kInvalidInput,
                 fmt::format("{}: a drawing of {} x {} pixels cannot be made; 1 to {} are possible", path.string(),
                             width, height, kLargest));
  std::string extension = path.extension().string();
  std::transform(extension.begin(), extension.end(), extension.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  auto drawing = std::make_unique<Drawing>();
  drawing->path = path;
  drawing->vector = extension == ".svg";
  if (drawing->vector) {
    drawing->surface.reset(cairo_svg_surface_create_for_stream(append, &drawing->bytes, width, height));
  } else if (extension == ".png") {
    drawing->surface.reset(cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height));
  } else {
    return Error(Code::kUnsupported,
                 fmt::format("{}: drawings are written as .png or .svg; name the file so", path.string()));
  }
  drawing->pen.reset(cairo_create(drawing->surface.get()));
  choose(drawing->pen.get(), paper);
  cairo_paint(drawing->pen.get());
  return Canvas(std::move(drawing));
}

void Canvas::line(std::span<const Spot> spots, const LineStyle& style) {
  cairo_t* pen = drawing_->pen.get();
  bool down = false;
  for (const Spot& s : spots) {
    if (!std::isfinite(s.x) || !std::isfinite(s.y)) {
      down = false;
      continue;
    }
    if (down) {
      cairo_line_to(pen, s.x, s.y);
    } else {
      cairo_move_to(pen, s.x, s.y);
    }
    down = true;
  }
  stroke(pen, style);
}

void Canvas::area(std::span<const Spot> corners, Colour fill) {
  cairo_t* pen = drawing_->pen.get();
  for (const Spot& s : corners) cairo_line_to(pen, s.x, s.y);
  cairo_close_path(pen);
  choose(pen, fill);
  cairo_fill(pen);
}

void Canvas::rectangle(double x, double y, double width, double height, Colour fill) {
  cairo_t* pen = drawing_->pen.get();
  cairo_rectangle(pen, x, y, width, height);
  choose(pen, fill);
  cairo_fill(pen);
}

void Canvas::frame(double x, double y, double width, double height, const LineStyle& style) {
  cairo_rectangle(drawing_->pen.get(), x, y, width, height);
  stroke(drawing_->pen.get(), style);
}

void Canvas::disc(Spot centre, double radius, Colour fill) {
  cairo_t* pen = drawing_->pen.get();
  cairo_new_path(pen);  // words leave a point behind, from which a line would be drawn
  cairo_arc(pen, centre.x, centre.y, radius, 0, 2 * std::numbers::pi);
  choose(pen, fill);
  cairo_fill(pen);
}

void Canvas::ring(Spot centre, double radius, const LineStyle& style) {
  cairo_new_path(drawing_->pen.get());
  cairo_arc(drawing_->pen.get(), centre.x, centre.y, radius, 0, 2 * std::numbers::pi);
  stroke(drawing_->pen.get(), style);
}

double Canvas::text_width(std::string_view words, const TextStyle& style) {
  cairo_t* pen = drawing_->pen.get();
  choose_font(pen, style);
  cairo_text_extents_t extents;
  cairo_text_extents(pen, std::string(words).c_str(), &extents);
  return extents.x_advance;
}

void Canvas::text(Spot at, std::string_view words, const TextStyle& style) {
  cairo_t* pen = drawing_->pen.get();
  const double width = text_width(words, style);
  const double back = style.anchor == Anchor::kLeft ? 0 : style.anchor == Anchor::kMiddle ? width / 2 : width;
  cairo_save(pen);
  cairo_translate(pen, at.x, at.y);
  cairo_rotate(pen, style.turn_deg * std::numbers::pi / 180);
  choose(pen, style.colour);
  cairo_move_to(pen, -back, 0);
  cairo_show_text(pen, std::string(words).c_str());
  cairo_restore(pen);
}

void Canvas::picture(Spot corner, View<const std::uint8_t> grey, double scale) {
  const Surface pixels(cairo_image_surface_create(CAIRO_FORMAT_RGB24, grey.width, grey.height));
  cairo_surface_flush(pixels.get());
  unsigned char* data = cairo_image_surface_get_data(pixels.get());
  const int stride = cairo_image_surface_get_stride(pixels.get());
  for (int y = 0; y < grey.height; ++y) {
    for (int x = 0; x < grey.width; ++x) {
      const std::uint32_t v = grey(x, y);
      const std::uint32_t rgb = v << 16 | v << 8 | v;
      std::memcpy(data + static_cast<std::ptrdiff_t>(y) * stride + 4 * x, &rgb, sizeof rgb);
    }
  }
  cairo_surface_mark_dirty(pixels.get());
  cairo_t* pen = drawing_->pen.get();
  cairo_save(pen);
  cairo_translate(pen, corner.x, corner.y);
  cairo_scale(pen, scale, scale);
  cairo_set_source_surface(pen, pixels.get(), 0, 0);
  cairo_paint(pen);
  cairo_restore(pen);
}

Result<AtomicFile> Canvas::write(Overwrite overwrite) {
  Drawing& d = *drawing_;
  d.pen.reset();
  if (d.vector) {
    cairo_surface_finish(d.surface.get());
  } else {
    cairo_surface_flush(d.surface.get());
  }
  if (const cairo_status_t status = cairo_surface_status(d.surface.get()); status != CAIRO_STATUS_SUCCESS)
    return Error(Code::kIo,
                 fmt::format("{}: the drawing failed ({})", d.path.string(), cairo_status_to_string(status)));
  NG_TRY(AtomicFile file, AtomicFile::create(d.path, overwrite));
  if (d.vector) {
    NG_CHECK(file.write_at(0, d.bytes));
  } else {
    const Image<std::uint16_t> colours = colours_of(d.surface.get());
    const std::array<View<const std::uint16_t>, 3> planes{colours.plane(0), colours.plane(1), colours.plane(2)};
    NG_CHECK(write_png(file, planes, {.bits = 8, .drawing = true}));
  }
  return file;
}

Result<void> Canvas::commit(Overwrite overwrite) {
  NG_TRY(AtomicFile file, write(overwrite));
  return file.commit();
}

}  // namespace ng::io
