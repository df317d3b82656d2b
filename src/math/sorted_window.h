// math/sorted_window.h - order statistics of many values, of which only those near them are sorted.
//
// A sample of the values tells two thresholds that the value of a rank lies between, most probably; one pass counts
// what lies below and takes out what lies between, and that alone is sorted. Thresholds that missed it are set wider,
// up to all values: the answers are those of the sorted whole (sampled selection: Floyd & Rivest 1975, CACM 18, 165).
#pragma once

#include <array>
#include <cstddef>
#include <memory>
#include <span>

namespace ng::math {

// Equal values, and what stands next to them in order.
struct Ties {
  float value = 0;
  std::size_t first = 0;  // rank of the first of them: so many values are smaller
  std::size_t count = 0;
  float below = 0, above = 0;  // the values next to them; their own where there is none
};

class SortedWindow {
 public:
  // Finite values, at least one; they stay with the caller, who keeps them.
  explicit SortedWindow(std::span<const float> values);

  // Those among which the value of a rank is, 0 ... number of values - 1.
  [[nodiscard]] Ties at(std::size_t rank);
  [[nodiscard]] std::size_t count_up_to(float limit) const;

 private:
  struct Window {
    std::size_t first = 0, count = 0;
    std::unique_ptr<float[]> sorted;  // `count` values, and room for all and a vector
  };
  [[nodiscard]] bool holds(const Window& window, std::size_t rank, Ties& ties) const;
  void open(std::size_t rank, std::size_t reach, Window& window) const;

  static constexpr std::size_t kSample = 128;

  std::span<const float> values_;
  std::array<float, kSample> sample_;  // sorted
  std::array<Window, 2> windows_;      // the last two that were asked for
  std::size_t oldest_ = 0;
};

}  // namespace ng::math
