// base/image.h - memory of images: one owner, any number of views.
//
// Conventions for every image in nightglass:
//   - planar: plane p of an image is a contiguous block of rows; a mono image has one plane, a colour image three (R,
//   G, B);
//   - row 0 is the first row stored in the file, x runs along a row; no picture is flipped on reading;
//   - inside the program the centre of the first pixel is (0, 0) and pixel (x, y) covers [x-0.5, x+0.5) x [y-0.5,
//   y+0.5);
//     files and people at the edges use the FITS convention, where that centre is (1, 1);
//   - rows start on 64-byte boundaries, so that vector loads are aligned; the padding holds no meaning.
// Copying an image by accident would cost 50 MB or more: owners move only, clone() says it aloud.
#pragma once

#include <algorithm>
#include <cassert>
#include <cstddef>
#include <cstring>
#include <memory>
#include <type_traits>

#include "base/image_memory.h"

namespace ng {

// Half-open rectangle of pixels: x0 <= x < x0 + width.
struct Region {
  int x0 = 0;
  int y0 = 0;
  int width = 0;
  int height = 0;

  [[nodiscard]] bool empty() const { return width <= 0 || height <= 0; }
  friend bool operator==(const Region&, const Region&) = default;
};

[[nodiscard]] inline Region intersect(const Region& a, const Region& b) {
  const int x0 = std::max(a.x0, b.x0);
  const int y0 = std::max(a.y0, b.y0);
  const int x1 = std::min(a.x0 + a.width, b.x0 + b.width);
  const int y1 = std::min(a.y0 + a.height, b.y0 + b.height);
  return {x0, y0, std::max(0, x1 - x0), std::max(0, y1 - y0)};
}

// A window on somebody else's pixels. Cheap to copy; never outlives the owner. `stride` counts elements, not bytes.
template <typename T>
struct View {
  T* data = nullptr;
  int width = 0;
  int height = 0;
  std::ptrdiff_t stride = 0;

  [[nodiscard]] T* row(int y) const {
    assert(y >= 0 && y < height);
    return data + y * stride;
  }
  [[nodiscard]] T& operator()(int x, int y) const {
    assert(x >= 0 && x < width);
    return row(y)[x];
  }
  [[nodiscard]] View crop(const Region& r) const {
    assert(r.x0 >= 0 && r.y0 >= 0 && r.x0 + r.width <= width && r.y0 + r.height <= height);
    return {data + r.y0 * stride + r.x0, r.width, r.height, stride};
  }
  [[nodiscard]] View rows(int y0, int count) const { return crop({0, y0, width, count}); }
  [[nodiscard]] bool empty() const { return width == 0 || height == 0; }

  operator View<const T>() const  // NOLINT(google-explicit-constructor): mutable to const, like pointers
      requires(!std::is_const_v<T>) {
    return {data, width, height, stride};
  }
};

template <typename T>
class Image {
  static_assert(std::is_trivially_copyable_v<T>);

 public:
  Image() = default;
  Image(int width, int height, int planes = 1) : width_(width), height_(height), planes_(planes) {
    assert(width >= 0 && height >= 0 && planes >= 1);
    stride_ = (static_cast<std::ptrdiff_t>(width) + kPad - 1) / kPad * kPad;
    memory_.reset(static_cast<T*>(take_image_memory(bytes())));
  }
  Image(int width, int height, int planes, T fill_value) : Image(width, height, planes) { fill(fill_value); }
  Image(Image&&) noexcept = default;
  Image& operator=(Image&&) noexcept = default;
  Image(const Image&) = delete;
  Image& operator=(const Image&) = delete;

  [[nodiscard]] Image clone() const {
    Image copy(width_, height_, planes_);
    if (bytes() > 0) std::memcpy(copy.memory_.get(), memory_.get(), bytes());
    return copy;
  }
  void fill(T value) { std::fill_n(memory_.get(), elements(), value); }

  [[nodiscard]] int width() const { return width_; }
  [[nodiscard]] int height() const { return height_; }
  [[nodiscard]] int planes() const { return planes_; }
  [[nodiscard]] bool empty() const { return width_ == 0 || height_ == 0; }

  [[nodiscard]] View<T> plane(int p = 0) {
    assert(p >= 0 && p < planes_);
    return {memory_.get() + p * stride_ * height_, width_, height_, stride_};
  }
  [[nodiscard]] View<const T> plane(int p = 0) const {
    assert(p >= 0 && p < planes_);
    return {memory_.get() + p * stride_ * height_, width_, height_, stride_};
  }

 private:
  static constexpr std::ptrdiff_t kPad = std::max<std::ptrdiff_t>(1, 64 / static_cast<std::ptrdiff_t>(sizeof(T)));
  struct Free {
    void operator()(T* p) const { give_image_memory(p); }
  };

  [[nodiscard]] std::size_t elements() const { return static_cast<std::size_t>(stride_) * height_ * planes_; }
  [[nodiscard]] std::size_t bytes() const { return elements() * sizeof(T); }

  int width_ = 0;
  int height_ = 0;
  int planes_ = 1;
  std::ptrdiff_t stride_ = 0;
  std::unique_ptr<T, Free> memory_;
};

static_assert(!std::is_copy_constructible_v<Image<float>>);

}  // namespace ng
