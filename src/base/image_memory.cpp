#include "base/image_memory.h"

#include <sys/mman.h>

#include <cstdlib>
#include <new>

namespace ng {
namespace {

constexpr std::size_t kLine = 64;
constexpr std::size_t kHugePage = std::size_t{2} << 20;
// Smaller blocks come and go often: those the allocator keeps and hands out again, pages and all.
constexpr std::size_t kLarge = std::size_t{8} << 20;

std::size_t rounded_up(std::size_t bytes, std::size_t step) {
  return (bytes + step - 1) / step * step;
}

}  // namespace

void* take_image_memory(std::size_t bytes) {
  const bool huge = bytes >= kLarge;
  const std::size_t step = huge ? kHugePage : kLine;
  const std::size_t size = rounded_up(bytes == 0 ? 1 : bytes, step);
  void* memory = std::aligned_alloc(step, size);
  if (memory == nullptr) throw std::bad_alloc();
  if (huge) madvise(memory, size, MADV_HUGEPAGE);  // a wish: without huge pages the memory is as good
  return memory;
}

void give_image_memory(void* memory) noexcept {
  std::free(memory);
}

}  // namespace ng
