// catalog/object_format.h - the bytes of the object file, shared by its reader and its writer. Little-endian.
//
// Head; zones + 1 indices (uint32) of the first object of each zone of declination; objects; keys, sorted by their
// text; texts, each ended by a zero. The names of an object are one text, a line each.
#pragma once

#include "catalog/star_format.h"

namespace ng::catalog {

inline constexpr char kObjectMagic[8] = {'n', 'g', 'o', 'b', 'j', 'e', 'c', '1'};
inline constexpr std::uint32_t kObjectZones = kStarZones;
inline constexpr std::int16_t kNoMagnitude = -32768;
inline constexpr std::uint32_t kNoHost = 0xffffffff;

struct ObjectFileHead {
  char magic[8];
  std::uint32_t objects;
  std::uint32_t keys;
  std::uint32_t text_bytes;
  std::uint32_t zones;
};
struct PackedObject {
  std::uint32_t ra;  // 2^32 = a full turn
  std::int32_t dec;
  float major_arcmin, minor_arcmin;  // 0: not known
  std::int16_t millimag;
  std::uint8_t kind;
  std::uint8_t opacity;  // 0: not known
  std::uint32_t names;   // place of the text
  std::uint32_t host;    // number of an object
};
struct PackedKey {
  std::uint32_t text;
  std::uint32_t object;
};
static_assert(sizeof(ObjectFileHead) == 24 && sizeof(PackedObject) == 28 && sizeof(PackedKey) == 8);

}  // namespace ng::catalog
