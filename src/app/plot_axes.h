// app/plot_axes.h - one plot on a canvas: frame, ticks, points and lines in the units of its axes.
#pragma once

#include <string>
#include <vector>

#include "io/canvas.h"

namespace ng::app {

struct PlotAxis {
  explicit PlotAxis(std::string text, bool with_logarithm = false)
      : label(std::move(text)), logarithmic(with_logarithm) {}

  std::string label;
  bool logarithmic;
  double low = 0, high = 1;

  // Widens it so that a value lies within; the first one begins it.
  void hold(double value);
  // A margin around what it holds, and a width where all values are one.
  void finish();
  [[nodiscard]] double share(double value) const;  // 0 at its low end, 1 at the high one
  [[nodiscard]] std::vector<double> ticks() const;

 private:
  bool empty_ = true;
};

class Plot {
 public:
  // `corner` is the upper left one of the frame.
  Plot(io::Canvas& canvas, io::Spot corner, double width, double height, PlotAxis x, PlotAxis y);
  void axes(const std::string& title);
  void disc(double x, double y, double radius, io::Colour colour);
  void ring(double x, double y, double radius, io::Colour colour);
  void bar(double x, double low, double high, io::Colour colour);  // of an uncertainty
  void line(const std::vector<io::Spot>& values, const io::LineStyle& style);
  void words(double share_x, double share_y, const std::string& text, io::Colour colour);

 private:
  [[nodiscard]] io::Spot at(double x, double y) const;
  io::Canvas& canvas_;
  io::Spot corner_;
  double width_, height_;
  PlotAxis x_, y_;
};

}  // namespace ng::app
