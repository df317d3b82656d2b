// base/image_memory.h - memory for pixels.
//
// A picture of 50 MB is 12000 pages of the usual size, and the first touch of each costs more than filling it. Large
// blocks therefore ask for huge pages where the system has them; where it has none, nothing else changes.
#pragma once

#include <cstddef>

namespace ng {

// Begins at a multiple of 64 bytes, holds no meaning yet. Throws std::bad_alloc.
[[nodiscard]] void* take_image_memory(std::size_t bytes);
void give_image_memory(void* memory) noexcept;

}  // namespace ng
