#include "math/sorted_window.h"

#include <hwy/contrib/sort/vqsort.h>

#include <algorithm>
#include <cassert>
#include <limits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "math/sorted_window.cpp"
#include <hwy/foreach_target.h>  // IWYU pragma: keep
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ng::math::HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

std::size_t count_at_most(const float* values, std::size_t n, float limit) {
  const hn::ScalableTag<float> d;
  const std::size_t lanes = hn::Lanes(d);
  const auto most = hn::Set(d, limit);
  std::size_t count = 0, i = 0;
  for (; i + lanes <= n; i += lanes) count += hn::CountTrue(d, hn::Le(hn::LoadU(d, values + i), most));
  for (; i < n; ++i) count += values[i] <= limit ? 1 : 0;
  return count;
}

// Counts the values up to `low`, and writes those above it up to `high`. Room for a whole vector behind the last.
// Returns how many were written.
std::size_t take_between(const float* values, std::size_t n, float low, float high, float* out, std::size_t& below) {
  const hn::ScalableTag<float> d;
  const std::size_t lanes = hn::Lanes(d);
  const auto vlow = hn::Set(d, low), vhigh = hn::Set(d, high);
  std::size_t written = 0, i = 0;
  below = 0;
  for (; i + lanes <= n; i += lanes) {
    const auto v = hn::LoadU(d, values + i);
    const auto up_to_low = hn::Le(v, vlow);
    const auto between = hn::AndNot(up_to_low, hn::Le(v, vhigh));
    below += hn::CountTrue(d, up_to_low);
    // Storing a compressed vector whole is quicker than storing its part.
    hn::StoreU(hn::Compress(v, between), d, out + written);
    written += hn::CountTrue(d, between);
  }
  for (; i < n; ++i) {
    below += values[i] <= low ? 1 : 0;
    if (values[i] > low && values[i] <= high) out[written++] = values[i];
  }
  return written;
}

}  // namespace ng::math::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ng::math {
namespace {

HWY_EXPORT(count_at_most);
HWY_EXPORT(take_between);

constexpr std::size_t kMostLanes = 64;  // of any vector

void sort_values(float* values, std::size_t n) {
  // A sorter holds no more than scratch and the state of its random pivots, which a new one asks the system for.
  thread_local const hwy::Sorter sort;
  sort(values, n, hwy::SortAscending());
}

}  // namespace

SortedWindow::SortedWindow(std::span<const float> values) : values_(values) {
  assert(!values.empty());
  for (std::size_t i = 0; i < kSample; ++i) sample_[i] = values[i * values.size() / kSample];
  sort_values(sample_.data(), kSample);
}

// Opens the window of a rank; a reach of the whole sample or more takes all values.
void SortedWindow::open(std::size_t rank, std::size_t reach, Window& window) const {
  const std::size_t middle = rank * kSample / values_.size();
  const float low = middle < reach ? -std::numeric_limits<float>::infinity() : sample_[middle - reach];
  const float high = middle + reach >= kSample ? std::numeric_limits<float>::infinity() : sample_[middle + reach];
  if (!window.sorted) window.sorted = std::make_unique_for_overwrite<float[]>(values_.size() + kMostLanes);
  window.count =
      HWY_DYNAMIC_DISPATCH(take_between)(values_.data(), values_.size(), low, high, window.sorted.get(), window.first);
  sort_values(window.sorted.get(), window.count);
}

// Is the rank in the window, and what stands next to its value?
bool SortedWindow::holds(const Window& window, std::size_t rank, Ties& ties) const {
  if (rank < window.first || rank >= window.first + window.count) return false;
  const float *begin = window.sorted.get(), *end = begin + window.count;
  const float value = begin[rank - window.first];
  const auto [first, last] = std::equal_range(begin, end, value);
  const bool lowest = first == begin, highest = last == end;
  if (lowest && window.first > 0) return false;
  if (highest && window.first + window.count < values_.size()) return false;
  ties = {value, window.first + static_cast<std::size_t>(first - begin), static_cast<std::size_t>(last - first),
          lowest ? value : *(first - 1), highest ? value : *last};
  return true;
}

Ties SortedWindow::at(std::size_t rank) {
  assert(rank < values_.size());
  Ties ties;
  for (const Window& window : windows_)
    if (holds(window, rank, ties)) return ties;
  Window& window = windows_[oldest_];
  oldest_ = 1 - oldest_;
  // Around its place in the sample of 128 a rank scatters by no more than 5.7, its standard deviation at the median.
  for (std::size_t reach = 12; reach < 2 * kSample; reach *= 2) {
    open(rank, reach, window);
    if (holds(window, rank, ties)) break;
  }
  return ties;
}

std::size_t SortedWindow::count_up_to(float limit) const {
  return HWY_DYNAMIC_DISPATCH(count_at_most)(values_.data(), values_.size(), limit);
}

}  // namespace ng::math
#endif
