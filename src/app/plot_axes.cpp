#include "app/plot_axes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace ng::app {

namespace palette = io::palette;

void PlotAxis::hold(double value) {
  if (!std::isfinite(value) || (logarithmic && value <= 0)) return;
  low = empty_ ? value : std::min(low, value);
  high = empty_ ? value : std::max(high, value);
  empty_ = false;
}

void PlotAxis::finish() {
  if (empty_) {
    low = logarithmic ? 1 : 0;
    high = logarithmic ? 10 : 1;
  }
  if (logarithmic) {
    const double margin = std::max(1.15, std::pow(high / low, 0.05));
    low /= margin;
    high *= margin;
  } else {
    const double margin = high > low ? 0.07 * (high - low) : std::max(0.5, 0.1 * std::fabs(high));
    low -= margin;
    high += margin;
  }
}

double PlotAxis::share(double value) const {
  if (logarithmic) return value > 0 ? std::log(value / low) / std::log(high / low) : std::nan("");
  return (value - low) / (high - low);
}

std::vector<double> PlotAxis::ticks() const {
  std::vector<double> values;
  if (logarithmic) {
    const bool narrow = high / low < 300;
    for (double decade = std::pow(10, std::floor(std::log10(low))); decade <= high; decade *= 10)
      for (const double m : {1.0, 2.0, 5.0})
        if ((narrow || m == 1) && m * decade >= low && m * decade <= high) values.push_back(m * decade);
    return values;
  }
  const double raw = (high - low) / 5, decade = std::pow(10, std::floor(std::log10(raw)));
  const double step = decade * (raw / decade < 1.5 ? 1 : raw / decade < 3.5 ? 2 : raw / decade < 7.5 ? 5 : 10);
  for (double v = std::ceil(low / step) * step; v <= high; v += step)
    values.push_back(std::fabs(v) < step / 1e6 ? 0 : v);
  return values;
}

Plot::Plot(io::Canvas& canvas, io::Spot corner, double width, double height, PlotAxis x, PlotAxis y)
    : canvas_(canvas), corner_(corner), width_(width), height_(height), x_(std::move(x)), y_(std::move(y)) {}

io::Spot Plot::at(double x, double y) const {
  return {corner_.x + width_ * x_.share(x), corner_.y + height_ * (1 - y_.share(y))};
}

void Plot::axes(const std::string& title) {
  const io::LineStyle faint{palette::kGrey.with_opacity(0.4), 0.7, false};
  for (const double v : x_.ticks()) {
    const double x = corner_.x + width_ * x_.share(v);
    canvas_.line(std::vector{io::Spot{x, corner_.y}, io::Spot{x, corner_.y + height_}}, faint);
    canvas_.text({x, corner_.y + height_ + 18}, fmt::format("{:g}", v),
                 {13, palette::kBlack, io::Anchor::kMiddle, false, 0});
  }
  for (const double v : y_.ticks()) {
    const double y = corner_.y + height_ * (1 - y_.share(v));
    canvas_.line(std::vector{io::Spot{corner_.x, y}, io::Spot{corner_.x + width_, y}}, faint);
    canvas_.text({corner_.x - 7, y + 5}, fmt::format("{:g}", v), {13, palette::kBlack, io::Anchor::kRight, false, 0});
  }
  canvas_.frame(corner_.x, corner_.y, width_, height_, {palette::kBlack, 1, false});
  canvas_.text({corner_.x, corner_.y - 12}, title, {16, palette::kBlack, io::Anchor::kLeft, true, 0});
  canvas_.text({corner_.x + width_ / 2, corner_.y + height_ + 38}, x_.label,
               {14, palette::kBlack, io::Anchor::kMiddle, false, 0});
  canvas_.text({corner_.x - 62, corner_.y + height_ / 2}, y_.label,
               {14, palette::kBlack, io::Anchor::kMiddle, false, -90});
}

void Plot::disc(double x, double y, double radius, io::Colour colour) {
  const io::Spot s = at(x, y);
  if (std::isfinite(s.x) && std::isfinite(s.y)) canvas_.disc(s, radius, colour);
}

void Plot::ring(double x, double y, double radius, io::Colour colour) {
  const io::Spot s = at(x, y);
  if (std::isfinite(s.x) && std::isfinite(s.y)) canvas_.ring(s, radius, {colour, 1.3, false});
}

void Plot::bar(double x, double low, double high, io::Colour colour) {
  canvas_.line(std::vector{at(x, low), at(x, high)}, {colour, 1.5, false});
}

void Plot::line(const std::vector<io::Spot>& values, const io::LineStyle& style) {
  std::vector<io::Spot> spots;
  for (const io::Spot& v : values) spots.push_back(at(v.x, v.y));
  canvas_.line(spots, style);
}

void Plot::words(double share_x, double share_y, const std::string& text, io::Colour colour) {
  canvas_.text({corner_.x + width_ * share_x, corner_.y + height_ * (1 - share_y)}, text,
               {14, colour, io::Anchor::kLeft, false, 0});
}

}  // namespace ng::app
