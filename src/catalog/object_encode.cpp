#include <fmt/format.h>

#include <array>
#include <cstring>
#include <numeric>
#include <tuple>

#include "catalog/object_file.h"
#include "catalog/object_format.h"
#include "catalog/object_name.h"
#include "sky/coordinates.h"

namespace ng::catalog {
namespace {

Result<PackedObject> pack(const SkyObject& o) {
  if (!(std::fabs(o.place.dec_rad) <= kPi / 2) || !(std::fabs(o.place.ra_rad) <= 2 * kPi) || o.names.empty())
    return Error(Code::kInvalidInput, fmt::format("an object at RA {} rad, Dec {} rad has no name or is nowhere",
                                                  o.place.ra_rad, o.place.dec_rad));
  const double turns = o.place.ra_rad / (2 * kPi);
  PackedObject p{};
  p.ra = static_cast<std::uint32_t>(std::llround((turns - std::floor(turns)) * kTurn));
  p.dec = static_cast<std::int32_t>(std::lround(o.place.dec_rad / (2 * kPi) * kTurn));
  p.major_arcmin = static_cast<float>(o.major_arcmin.value_or(0));
  p.minor_arcmin = static_cast<float>(o.minor_arcmin.value_or(0));
  p.millimag = o.magnitude && std::fabs(*o.magnitude) < 32 ? static_cast<std::int16_t>(std::lround(*o.magnitude * 1000))
                                                           : kNoMagnitude;
  p.kind = static_cast<std::uint8_t>(o.kind);
  p.opacity = static_cast<std::uint8_t>(std::clamp(o.opacity.value_or(0), 0, 9));
  p.host = kNoHost;
  return p;
}

class Texts {
 public:
  std::uint32_t add(const std::string& text) {
    const auto at = static_cast<std::uint32_t>(bytes_.size());
    bytes_.insert(bytes_.end(), text.begin(), text.end());
    bytes_.push_back(0);
    return at;
  }
  [[nodiscard]] const std::vector<char>& bytes() const { return bytes_; }

 private:
  std::vector<char> bytes_;
};

// Galaxies are few that are large enough: everything else is held against each of them.
void find_hosts(std::vector<PackedObject>& packed) {
  constexpr float kLargeArcmin = 10;
  const auto is_galaxy = [](const PackedObject& p) {
    return p.kind == static_cast<int>(ObjectKind::kGalaxy) || p.kind == static_cast<int>(ObjectKind::kGalaxyCluster);
  };
  const auto place = [](const PackedObject& p) { return sky::Direction{packed_ra_rad(p.ra), packed_dec_rad(p.dec)}; };
  std::vector<std::uint32_t> hosts;
  for (std::uint32_t i = 0; i < packed.size(); ++i)
    if (packed[i].kind == static_cast<int>(ObjectKind::kGalaxy) && packed[i].major_arcmin >= kLargeArcmin)
      hosts.push_back(i);
  for (PackedObject& p : packed) {
    if (is_galaxy(p) || p.kind == static_cast<int>(ObjectKind::kDarkNebula)) continue;
    double nearest = kPi;
    for (const std::uint32_t host : hosts) {
      const double distance = sky::separation_rad(place(p), place(packed[host]));
      if (distance > deg_to_rad(packed[host].major_arcmin / 120) || distance >= nearest) continue;
      nearest = distance;
      p.host = host;
    }
  }
}

template <typename T>
void append(std::vector<std::byte>& bytes, const T* data, std::size_t count) {
  const auto* first = reinterpret_cast<const std::byte*>(data);
  bytes.insert(bytes.end(), first, first + count * sizeof(T));
}

}  // namespace

Result<std::vector<std::byte>> encode_object_file(std::span<const SkyObject> objects) {
  std::vector<PackedObject> unsorted;
  for (const SkyObject& o : objects) {
    NG_TRY(const PackedObject p, pack(o));
    unsorted.push_back(p);
  }
  std::vector<std::size_t> order(objects.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  const auto key_of = [&](std::size_t i) {
    return std::tuple(star_zone(packed_dec_rad(unsorted[i].dec)), unsorted[i].ra, unsorted[i].dec, i);
  };
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return key_of(a) < key_of(b); });

  Texts texts;
  std::vector<PackedObject> packed;
  std::vector<std::pair<std::string, std::uint32_t>> keys;
  std::array<std::uint32_t, kObjectZones + 1> first{};
  for (const std::size_t i : order) {
    const auto number = static_cast<std::uint32_t>(packed.size());
    PackedObject p = unsorted[i];
    p.names = texts.add(fmt::format("{}", fmt::join(objects[i].names, "\n")));
    packed.push_back(p);
    ++first[star_zone(packed_dec_rad(p.dec)) + 1];
    for (const std::string& name : objects[i].names) keys.emplace_back(name_key(name), number);
  }
  for (std::uint32_t z = 0; z < kObjectZones; ++z) first[z + 1] += first[z];
  find_hosts(packed);
  std::sort(keys.begin(), keys.end());
  keys.erase(std::unique(keys.begin(), keys.end()), keys.end());
  std::vector<PackedKey> packed_keys;
  for (const auto& [key, number] : keys) packed_keys.push_back({texts.add(key), number});

  ObjectFileHead head{{},
                      static_cast<std::uint32_t>(packed.size()),
                      static_cast<std::uint32_t>(packed_keys.size()),
                      static_cast<std::uint32_t>(texts.bytes().size()),
                      kObjectZones};
  std::memcpy(head.magic, kObjectMagic, sizeof kObjectMagic);
  std::vector<std::byte> bytes;
  append(bytes, &head, 1);
  append(bytes, first.data(), first.size());
  append(bytes, packed.data(), packed.size());
  append(bytes, packed_keys.data(), packed_keys.size());
  append(bytes, texts.bytes().data(), texts.bytes().size());
  return bytes;
}

}  // namespace ng::catalog
