// io/overwrite.h - what happens when the file is there already.
#pragma once

#include <cstdint>

namespace ng::io {

enum class Overwrite : std::uint8_t { kRefuse, kReplace };

}  // namespace ng::io
