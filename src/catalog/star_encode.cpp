#include <fmt/format.h>

#include <array>
#include <cstring>
#include <tuple>

#include "catalog/star_file.h"
#include "catalog/star_format.h"

namespace ng::catalog {
namespace {

Result<PackedStar> pack(const CatalogStar& star) {
  if (!(std::fabs(star.dec_rad) <= kPi / 2) || !(std::fabs(star.ra_rad) <= 2 * kPi))
    return Error(Code::kInvalidInput,
                 fmt::format("a star at RA {} rad, Dec {} rad is nowhere on the sky", star.ra_rad, star.dec_rad));
  if (!(std::fabs(star.v_mag) < 32) || !(std::fabs(star.b_minus_v.value_or(0)) < 32))
    return Error(Code::kInvalidInput,
                 fmt::format("a star of V {} and B-V {} is no star", star.v_mag, star.b_minus_v.value_or(0)));
  const double turns = star.ra_rad / (2 * kPi);
  return PackedStar{static_cast<std::uint32_t>(std::llround((turns - std::floor(turns)) * kTurn)),
                    static_cast<std::int32_t>(std::lround(star.dec_rad / (2 * kPi) * kTurn)),
                    static_cast<std::int16_t>(std::lround(star.v_mag * 1000)),
                    star.b_minus_v ? static_cast<std::int16_t>(std::lround(*star.b_minus_v * 1000)) : kNoColour};
}

}  // namespace

Result<std::vector<std::byte>> encode_star_file(std::span<const CatalogStar> stars) {
  std::vector<PackedStar> packed;
  packed.reserve(stars.size());
  for (const CatalogStar& star : stars) {
    NG_TRY(const PackedStar p, pack(star));
    packed.push_back(p);
  }
  const auto key = [](const PackedStar& s) {
    return std::tuple(star_zone(packed_dec_rad(s.dec)), s.ra, s.dec, s.v_millimag, s.colour_millimag);
  };
  std::sort(packed.begin(), packed.end(), [&](const PackedStar& a, const PackedStar& b) { return key(a) < key(b); });

  std::array<std::uint32_t, kStarZones + 1> first{};
  for (const PackedStar& s : packed) ++first[star_zone(packed_dec_rad(s.dec)) + 1];
  for (std::uint32_t z = 0; z < kStarZones; ++z) first[z + 1] += first[z];

  StarFileHead head{{}, static_cast<std::uint32_t>(packed.size()), kStarZones};
  std::memcpy(head.magic, kStarMagic, sizeof kStarMagic);
  std::vector<std::byte> bytes(sizeof head + sizeof first + packed.size() * sizeof(PackedStar));
  std::memcpy(bytes.data(), &head, sizeof head);
  std::memcpy(bytes.data() + sizeof head, first.data(), sizeof first);
  if (!packed.empty())
    std::memcpy(bytes.data() + sizeof head + sizeof first, packed.data(), packed.size() * sizeof(PackedStar));
  return bytes;
}

}  // namespace ng::catalog
