#include "app/measure_store.h"

#include <cstring>
#include <fstream>
#include <iterator>
#include <map>
#include <nlohmann/json.hpp>

#include "io/atomic_file.h"
#include "io/content_hash.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;
using Cbor = nlohmann::json;

// Counts up with every change of what is measured, or how.
constexpr int kVersion = 5;

template <typename T>
Cbor of_image(const Image<T>& image) {
  std::vector<std::uint8_t> bytes(sizeof(T) * static_cast<std::size_t>(image.width()) * image.height());
  for (int y = 0; y < image.height(); ++y)
    std::memcpy(bytes.data() + sizeof(T) * static_cast<std::size_t>(y) * image.width(), image.plane().row(y),
                sizeof(T) * static_cast<std::size_t>(image.width()));
  return {{"width", image.width()}, {"height", image.height()}, {"values", Cbor::binary(std::move(bytes))}};
}

template <typename T>
Image<T> to_image(const Cbor& stored) {
  Image<T> image(stored.at("width"), stored.at("height"));
  const auto& bytes = stored.at("values").get_binary();
  const std::size_t row = sizeof(T) * static_cast<std::size_t>(image.width());
  if (bytes.size() != row * static_cast<std::size_t>(image.height())) throw std::length_error("image cut short");
  for (int y = 0; y < image.height(); ++y)
    std::memcpy(image.plane().row(y), bytes.data() + row * static_cast<std::size_t>(y), row);
  return image;
}

// The members of a star, a trail, a quality record in one fixed order, for writing and for reading.
void star_members(auto& s, auto&& visit) {
  for (auto* member : {&s.x, &s.y, &s.x_error, &s.y_error, &s.flux, &s.flux_error, &s.peak, &s.background, &s.fwhm_px,
                       &s.fwhm_error_px, &s.half_flux_radius_px, &s.eccentricity, &s.angle_rad})
    visit(*member);
  visit(s.flags);
}
void trail_members(auto& t, auto&& visit) {
  for (auto* member : {&t.normal_x, &t.normal_y, &t.distance, &t.half_width_px, &t.peak, &t.snr}) visit(*member);
}
void quality_members(auto& q, auto&& visit) {
  visit(q.stars);
  visit(q.good_stars);
  for (auto* member : {&q.fwhm_px, &q.half_flux_radius_px, &q.eccentricity, &q.background, &q.noise}) visit(*member);
}

void profile_members(auto& p, auto&& visit) {
  for (auto* member : {&p.cxx, &p.cyy, &p.cxy, &p.beta}) visit(*member);
}

auto append_to(Cbor& list) {
  return [&list](const auto& value) { list.push_back(value); };
}
auto take_from(const Cbor& list) {
  return [&list, i = std::size_t{0}](auto& value) mutable { list.at(i++).get_to(value); };
}

Cbor of_light(const Light& light) {
  Cbor stored{{"frame", light.input->hash},
              {"width", light.stars.width},
              {"height", light.stars.height},
              {"saturation", light.saturation},
              {"star_colours", {light.star_colours.red, light.star_colours.blue, light.star_colours.green_rows}}};
  for (const Star& s : light.stars.stars) {
    Cbor row = Cbor::array();
    star_members(s, append_to(row));
    stored["stars"].push_back(std::move(row));
  }
  for (const measure::Trail& t : light.trails) {
    Cbor row = Cbor::array();
    trail_members(t, append_to(row));
    stored["trails"].push_back(std::move(row));
  }
  stored["quality"] = Cbor::array();
  quality_members(light.quality, append_to(stored["quality"]));
  stored["profile"] = Cbor::array();
  profile_members(light.profile, append_to(stored["profile"]));
  for (std::size_t p = 0; p < static_cast<std::size_t>(light.planes); ++p) {
    const BackgroundMap& b = light.background[p];
    stored["background"].push_back({{"width", b.width},
                                    {"height", b.height},
                                    {"box_px", b.box_px},
                                    {"level", of_image(b.level)},
                                    {"noise", of_image(b.noise)}});
  }
  stored["thumbnail"] = of_image(light.thumbnail);
  return stored;
}

void to_light(const Cbor& stored, Light& light) {
  StarList stars{stored.at("width"), stored.at("height"), {}};
  std::vector<measure::Trail> trails;
  if (stored.contains("stars"))
    for (const Cbor& row : stored.at("stars")) star_members(stars.stars.emplace_back(), take_from(row));
  if (stored.contains("trails"))
    for (const Cbor& row : stored.at("trails")) trail_members(trails.emplace_back(), take_from(row));
  FrameQuality quality;
  quality_members(quality, take_from(stored.at("quality")));
  Profile profile;
  profile_members(profile, take_from(stored.at("profile")));
  std::array<BackgroundMap, 3> background;
  for (std::size_t p = 0; p < static_cast<std::size_t>(light.planes); ++p) {
    const Cbor& b = stored.at("background").at(p);
    background[p] = {b.at("width"), b.at("height"), b.at("box_px"), to_image<float>(b.at("level")),
                     to_image<float>(b.at("noise"))};
  }
  const Cbor& colours = stored.at("star_colours");
  light.star_colours = {colours.at(0), colours.at(1), colours.at(2)};
  light.saturation = stored.at("saturation");
  light.thumbnail = to_image<std::uint8_t>(stored.at("thumbnail"));
  light.stars = std::move(stars);
  light.trails = std::move(trails);
  light.quality = quality;
  light.profile = profile;
  light.background = std::move(background);
}

// Null where the file is not whole.
Cbor read_checked(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  const std::vector<char> file{std::istreambuf_iterator<char>(in), {}};
  std::uint64_t sum = 0;
  if (file.size() <= sizeof sum) return {};
  const auto* bytes = reinterpret_cast<const std::uint8_t*>(file.data());
  const std::size_t length = file.size() - sizeof sum;
  std::memcpy(&sum, bytes + length, sizeof sum);
  if (sum != io::content_checksum(std::as_bytes(std::span(bytes, length)))) return {};
  return Cbor::from_cbor(bytes, bytes + length, true, false);
}

// The lights of a file by key; empty where it is damaged, or of another version.
Cbor read_lights(const fs::path& path) {
  Cbor file = read_checked(path);
  if (!file.is_object() || file.value("version", 0) != kVersion || !file.contains("lights")) return Cbor::object();
  return std::move(file["lights"]);
}

}  // namespace

struct MeasureStore::Kept {
  std::map<std::string, Cbor> lights;  // by key
};

MeasureStore::MeasureStore() : kept_(std::make_unique<Kept>()) {}
MeasureStore::MeasureStore(MeasureStore&&) noexcept = default;
MeasureStore& MeasureStore::operator=(MeasureStore&&) noexcept = default;
MeasureStore::~MeasureStore() = default;

void MeasureStore::add_folder(const fs::path& masters) {
  std::error_code error;
  for (fs::directory_iterator it(masters, error), end; !error && it != end; it.increment(error))
    if (it->path().string().ends_with(".measures.cbor")) add_file(it->path());
}

void MeasureStore::add_file(const fs::path& measures) {
  const Cbor file = read_lights(measures);
  for (const auto& [key, light] : file.items()) kept_->lights[key] = light;
}

std::vector<store::MeasureRecord> read_measure_records(const fs::path& path) {
  std::vector<store::MeasureRecord> records;
  const Cbor lights = read_lights(path);
  for (const auto& [key, light] : lights.items()) {
    try {
      FrameQuality quality;
      quality_members(quality, take_from(light.at("quality")));
      store::MeasureRecord r;
      r.frame_hash = light.at("frame");
      r.key = key;
      r.version = kVersion;
      r.stars = quality.stars;
      r.trails = light.contains("trails") ? static_cast<int>(light.at("trails").size()) : 0;
      if (quality.good_stars > 0) {
        r.fwhm_px = quality.fwhm_px;
        r.half_flux_radius_px = quality.half_flux_radius_px;
        r.eccentricity = quality.eccentricity;
      }
      r.background_e = quality.background;
      r.noise_e = quality.noise;
      records.push_back(std::move(r));
    } catch (const std::exception&) {  // written by something else, or before lights named their frame
      continue;
    }
  }
  return records;
}

bool MeasureStore::fill(Light& light) const {
  const auto found = kept_->lights.find(light.measure_key);
  if (found == kept_->lights.end()) return false;
  try {
    to_light(found->second, light);
    return true;
  } catch (const std::exception&) {  // the checksum is right, so it was written by something else
    return false;
  }
}

Result<void> save_measures(const fs::path& path, std::span<const Light* const> lights, io::Overwrite overwrite) {
  Cbor file{{"version", kVersion}, {"lights", Cbor::object()}};
  for (const Light* light : lights)
    if (!light->thumbnail.empty()) file["lights"][light->measure_key] = of_light(*light);
  std::vector<std::uint8_t> bytes = Cbor::to_cbor(file);
  const std::uint64_t sum = io::content_checksum(std::as_bytes(std::span(bytes)));
  const auto* sum_bytes = reinterpret_cast<const std::uint8_t*>(&sum);
  bytes.insert(bytes.end(), sum_bytes, sum_bytes + sizeof sum);
  NG_TRY(io::AtomicFile out, io::AtomicFile::create(path, overwrite));
  NG_CHECK(out.write_at(0, std::as_bytes(std::span(bytes))));
  return out.commit();
}

std::string measure_key(const Light& light, const std::string& calibration, const std::string& defects) {
  io::ContentHash hash;
  for (const std::string& text :
       {light.input->hash, calibration, light.calibration.zero, light.calibration.flat, defects})
    hash.add(std::as_bytes(std::span(text.c_str(), text.size() + 1)));
  return hash.text();
}

}  // namespace ng::app
