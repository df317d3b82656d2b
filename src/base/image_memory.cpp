#include "base/image_memory.h"

#include <sys/mman.h>

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>
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

// A block begins behind the address that the allocator gave, which stands right before it. Were it asked for aligned
// memory, it would look for the size and the alignment together, and never find a block again that it had given before.
void* take_image_memory(std::size_t bytes) {
  const bool huge = bytes >= kLarge;
  const std::size_t step = huge ? kHugePage : kLine;
  const std::size_t size = rounded_up(bytes == 0 ? 1 : bytes, step);
  void* given = std::malloc(size + step + sizeof(void*));
  if (given == nullptr) throw std::bad_alloc();
  const auto first = reinterpret_cast<std::uintptr_t>(given) + sizeof(void*);
  auto* memory = reinterpret_cast<std::byte*>(rounded_up(first, step));
  std::memcpy(memory - sizeof(void*), &given, sizeof(void*));
  if (huge) madvise(memory, size, MADV_HUGEPAGE);  // a wish: without huge pages the memory is as good
  return memory;
}

void give_image_memory(void* memory) noexcept {
  if (memory == nullptr) return;
  void* given = nullptr;
  std::memcpy(&given, static_cast<std::byte*>(memory) - sizeof(void*), sizeof(void*));
  std::free(given);
}

}  // namespace ng
