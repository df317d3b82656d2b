#include "catalog/object_file.h"

#include <fmt/format.h>

#include <cstring>
#include <fstream>
#include <set>

#include "catalog/object_format.h"
#include "catalog/object_name.h"
#include "sky/coordinates.h"

namespace ng::catalog {

struct ObjectFile::Content {
  std::vector<char> bytes;
  std::span<const std::uint32_t> first;
  std::span<const PackedObject> objects;
  std::span<const PackedKey> keys;
  std::span<const char> texts;

  // All offsets have been checked by open().
  [[nodiscard]] std::string_view text(std::uint32_t at) const { return texts.data() + at; }
  [[nodiscard]] sky::Direction place(std::uint32_t number) const {
    return {packed_ra_rad(objects[number].ra), packed_dec_rad(objects[number].dec)};
  }
};

namespace {

// Points the spans into the bytes; says what is wrong with them, or nothing.
template <typename Content>
const char* map(Content& c) {
  const char* data = c.bytes.data();
  ObjectFileHead head{};
  if (c.bytes.size() < sizeof head) return "it is too short";
  std::memcpy(&head, data, sizeof head);
  if (std::memcmp(head.magic, kObjectMagic, sizeof kObjectMagic) != 0) return "it does not begin as one";
  if (head.zones != kObjectZones) return "its zones are not ours";
  const std::uint64_t wanted = sizeof head + 4ULL * (kObjectZones + 1) + std::uint64_t{head.objects} * 28 +
                               std::uint64_t{head.keys} * 8 + head.text_bytes;
  if (c.bytes.size() != wanted || head.text_bytes == 0 || c.bytes.back() != 0) return "its length is wrong";
  data += sizeof head;
  c.first = {reinterpret_cast<const std::uint32_t*>(data), kObjectZones + 1};
  data += c.first.size_bytes();
  c.objects = {reinterpret_cast<const PackedObject*>(data), head.objects};
  data += c.objects.size_bytes();
  c.keys = {reinterpret_cast<const PackedKey*>(data), head.keys};
  data += c.keys.size_bytes();
  c.texts = {data, head.text_bytes};
  if (c.first.front() != 0 || c.first.back() != head.objects || !std::is_sorted(c.first.begin(), c.first.end()))
    return "its index is damaged";
  for (const PackedObject& o : c.objects)
    if (o.names >= head.text_bytes || o.kind >= kObjectKinds || (o.host != kNoHost && o.host >= head.objects))
      return "an object in it is damaged";
  for (const PackedKey& k : c.keys)
    if (k.text >= head.text_bytes || k.object >= head.objects) return "its names are damaged";
  return nullptr;
}

}  // namespace

std::string_view kind_name(ObjectKind kind) {
  constexpr std::string_view kNames[kObjectKinds] = {
      "galaxy",           "galaxy cluster",    "open cluster",  "globular cluster",
      "emission nebula",  "reflection nebula", "bright nebula", "star-forming region",
      "planetary nebula", "supernova remnant", "dark nebula"};
  return kNames[static_cast<int>(kind)];
}

bool shines_in_lines(ObjectKind kind) {
  switch (kind) {
    case ObjectKind::kEmissionNebula:
    case ObjectKind::kBrightNebula:
    case ObjectKind::kStarForming:
    case ObjectKind::kPlanetaryNebula:
    case ObjectKind::kSupernovaRemnant:
      return true;
    default:
      return false;
  }
}

std::optional<double> surface_brightness(const SkyObject& o) {
  if (!o.magnitude || !o.major_arcmin || !o.minor_arcmin) return std::nullopt;
  const double area_arcsec2 = kPi / 4 * *o.major_arcmin * *o.minor_arcmin * 3600;
  return *o.magnitude + 2.5 * std::log10(area_arcsec2);
}

ObjectFile::ObjectFile(std::unique_ptr<Content> content) : content_(std::move(content)) {}
ObjectFile::ObjectFile(ObjectFile&&) noexcept = default;
ObjectFile& ObjectFile::operator=(ObjectFile&&) noexcept = default;
ObjectFile::~ObjectFile() = default;

Result<ObjectFile> ObjectFile::open(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary | std::ios::ate);
  if (!in) return Error(Code::kNotFound, fmt::format("there is no catalogue of objects at {}", path.string()));
  auto content = std::make_unique<Content>();
  content->bytes.resize(static_cast<std::size_t>(std::max<std::streamoff>(0, in.tellg())));
  in.seekg(0);
  if (!in.read(content->bytes.data(), static_cast<std::streamsize>(content->bytes.size())))
    return Error(Code::kIo, fmt::format("{} cannot be read", path.string()));
  if (const char* why = map(*content))
    return Error(Code::kCorrupt,
                 fmt::format("{} is not a catalogue of objects of ours: {}; build it again", path.string(), why));
  return ObjectFile(std::move(content));
}

std::uint32_t ObjectFile::size() const {
  return static_cast<std::uint32_t>(content_->objects.size());
}

sky::Direction ObjectFile::place(std::uint32_t number) const {
  return content_->place(number);
}

double ObjectFile::major_arcmin(std::uint32_t number) const {
  return content_->objects[number].major_arcmin;
}

SkyObject ObjectFile::object(std::uint32_t number) const {
  const PackedObject& p = content_->objects[number];
  SkyObject o;
  std::string_view names = content_->text(p.names);
  while (!names.empty()) {
    const auto end = std::min(names.find('\n'), names.size());
    o.names.emplace_back(names.substr(0, end));
    names.remove_prefix(std::min(end + 1, names.size()));
  }
  o.place = content_->place(number);
  o.kind = static_cast<ObjectKind>(p.kind);
  if (p.major_arcmin > 0) o.major_arcmin = p.major_arcmin;
  if (p.minor_arcmin > 0) o.minor_arcmin = p.minor_arcmin;
  if (p.millimag != kNoMagnitude) o.magnitude = p.millimag / 1000.0;
  if (p.opacity > 0) o.opacity = p.opacity;
  if (p.host != kNoHost) o.host = p.host;
  return o;
}

std::vector<std::uint32_t> ObjectFile::box(double ra_from_rad, double ra_to_rad, double dec_from_rad,
                                           double dec_to_rad) const {
  std::vector<std::uint32_t> found;
  if (!(dec_from_rad <= dec_to_rad)) return found;
  const double turn = 2 * kPi;
  const double width = ra_to_rad - ra_from_rad >= turn
                           ? turn
                           : ra_to_rad - ra_from_rad - turn * std::floor((ra_to_rad - ra_from_rad) / turn);
  const auto south = star_zone(std::max(-kPi / 2, dec_from_rad)), north = star_zone(std::min(kPi / 2, dec_to_rad));
  for (std::uint32_t i = content_->first[south]; i < content_->first[north + 1]; ++i) {
    const sky::Direction d = content_->place(i);
    const double east = d.ra_rad - ra_from_rad - turn * std::floor((d.ra_rad - ra_from_rad) / turn);
    if (d.dec_rad >= dec_from_rad && d.dec_rad <= dec_to_rad && east <= width) found.push_back(i);
  }
  return found;
}

std::vector<std::uint32_t> ObjectFile::cone(sky::Direction centre, double radius_rad) const {
  const double south = centre.dec_rad - radius_rad, north = centre.dec_rad + radius_rad;
  double reach = kPi;
  if (north < kPi / 2 && south > -kPi / 2)
    reach = std::asin(std::min(1.0, std::sin(radius_rad) / std::cos(centre.dec_rad))) + 1e-8;
  std::vector<std::pair<double, std::uint32_t>> near;
  for (const std::uint32_t i : box(centre.ra_rad - reach, centre.ra_rad + reach, south - 1e-8, north + 1e-8)) {
    const double distance = sky::separation_rad(centre, content_->place(i));
    if (distance <= radius_rad) near.emplace_back(distance, i);
  }
  std::sort(near.begin(), near.end());
  std::vector<std::uint32_t> found;
  for (const auto& [distance, i] : near) found.push_back(i);
  return found;
}

std::optional<std::uint32_t> ObjectFile::find(std::string_view name) const {
  const std::string key = name_key(name);
  if (key.empty()) return std::nullopt;
  const auto& keys = content_->keys;
  const auto begin =
      std::lower_bound(keys.begin(), keys.end(), key,
                       [&](const PackedKey& k, const std::string& wanted) { return content_->text(k.text) < wanted; });
  const auto brighter = [&](std::uint32_t a, std::uint32_t b) {
    const auto rank = [&](std::uint32_t i) {
      const auto m = content_->objects[i].millimag;
      return m == kNoMagnitude ? 32767 : m;
    };
    return rank(a) < rank(b);
  };
  std::optional<std::uint32_t> best;
  for (auto k = begin; k != keys.end() && content_->text(k->text) == key; ++k)
    if (!best || brighter(k->object, *best)) best = k->object;
  // A beginning counts for proper names only: "M 3" is not the beginning of "M 33".
  constexpr std::size_t kShortest = 4;
  const bool has_digit = std::any_of(key.begin(), key.end(), [](char c) { return c >= '0' && c <= '9'; });
  if (best || has_digit || key.size() < kShortest) return best;
  for (auto k = begin; k != keys.end() && content_->text(k->text).starts_with(key); ++k)
    if (!best || brighter(k->object, *best)) best = k->object;
  return best;
}

std::vector<std::string> ObjectFile::suggest(std::string_view name, std::size_t count) const {
  const std::string key = name_key(name);
  const int limit = key.size() <= 4 ? 1 : key.size() <= 8 ? 2 : 3;
  std::set<std::tuple<int, int, std::string>> ranked;  // how unlike, how faint, the name
  for (const PackedKey& k : content_->keys) {
    const std::string_view other = content_->text(k.text);
    int distance = key_distance(key, other, limit);
    if (distance > limit && key.size() >= 4 && other.find(key) != std::string_view::npos) distance = limit;
    if (distance > limit) continue;
    for (const std::string& spelled : object(k.object).names)
      if (name_key(spelled) == other)
        ranked.emplace(
            distance,
            content_->objects[k.object].millimag == kNoMagnitude ? 32767 : content_->objects[k.object].millimag,
            spelled);
  }
  std::vector<std::string> names;
  for (const auto& [distance, faint, spelled] : ranked)
    if (names.size() < count) names.push_back(spelled);
  return names;
}

}  // namespace ng::catalog
