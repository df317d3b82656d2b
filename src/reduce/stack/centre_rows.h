// reduce/stack/centre_rows.h - the last rows of the ordinary master, kept while a drizzle judges the frames by them.
#pragma once

#include "base/context.h"
#include "base/image.h"
#include "base/result.h"
#include "reduce/stack/integrate.h"

namespace ng::reduce {

// The bands come in order; what is no longer needed is forgotten.
class CentreRows {
 public:
  CentreRows(int width, int planes);

  // `sky` = level of bare sky per master pixel, as in StackOptions. The band's coverage must count frames.
  void append(const StackBand& band, const Image<float>& sky_mesh);
  // Works out the slopes of rows whose neighbours are there, with what the seeing of the frames makes of stars
  // (seeing_allowance.h); before anyone asks for them. The same options each time.
  [[nodiscard]] Result<void> find_slopes(const StackOptions& options, const Context& ctx);
  // Forgets the rows above y.
  void forget_above(int y);

  [[nodiscard]] int first() const { return y0_; }
  [[nodiscard]] int end() const { return y0_ + rows_; }

  // Rows first() ... end() - 1. The mean has the level of the sky where there is none, and `missing` is nonzero there.
  [[nodiscard]] View<const float> mean(int plane) const { return mean_.plane(plane).rows(0, rows_); }
  [[nodiscard]] View<const std::uint8_t> missing(int plane) const { return missing_.plane(plane).rows(0, rows_); }
  [[nodiscard]] View<const float> variance(int plane) const { return variance_.plane(plane).rows(0, rows_); }
  [[nodiscard]] View<const float> sky(int plane) const { return sky_.plane(plane).rows(0, rows_); }
  // How steep the mean is, per master pixel, what stands out of it counted in.
  [[nodiscard]] View<const float> slope(int plane) const { return slope_.plane(plane).rows(0, rows_); }
  [[nodiscard]] View<const float> frames(int plane) const { return frames_.plane(plane).rows(0, rows_); }

 private:
  void make_room(int rows);

  int width_ = 0, planes_ = 1;
  int y0_ = 0, rows_ = 0;
  int slopes_ = 0;  // rows whose slopes are final
  Image<float> mean_, variance_, sky_, slope_, frames_;
  Image<std::uint8_t> missing_;
};

}  // namespace ng::reduce
