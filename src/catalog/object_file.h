// catalog/object_file.h - deep-sky objects: what they are, where, how large, and by which names.
//
// One file of a few megabytes, read whole: objects by zones of declination and right ascension (as in star_file.h), a
// sorted index of names, and the texts (object_format.h). Places are J2000. What the source says is taken as it is:
// some sizes and places in it are wrong by much (0.9 % of NGC and IC places by more than 20 arcminutes).
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "sky/gnomonic.h"

namespace ng::catalog {

enum class ObjectKind : std::uint8_t {
  kGalaxy,
  kGalaxyCluster,
  kOpenCluster,
  kGlobularCluster,
  kEmissionNebula,
  kReflectionNebula,
  kBrightNebula,  // emission or reflection, the source does not say
  kStarForming,   // nebula with its young cluster
  kPlanetaryNebula,
  kSupernovaRemnant,
  kDarkNebula,
};
inline constexpr int kObjectKinds = 11;
[[nodiscard]] std::string_view kind_name(ObjectKind kind);  // "emission nebula"
// Shines mostly in emission lines, which a narrow filter lets through.
[[nodiscard]] bool shines_in_lines(ObjectKind kind);

struct SkyObject {
  std::vector<std::string> names;  // the most usual designation first, proper names last
  sky::Direction place;            // ICRS
  ObjectKind kind = ObjectKind::kGalaxy;
  std::optional<double> major_arcmin, minor_arcmin;  // of the disc or ellipse
  std::optional<double> magnitude;                   // total; V where known, else B
  std::optional<int> opacity;                        // of a dark nebula, 1 to 6
  std::optional<std::uint32_t> host;                 // number of the galaxy in whose disc it lies
};

class ObjectFile {
 public:
  // Errors: kNotFound, kIo, kCorrupt.
  [[nodiscard]] static Result<ObjectFile> open(const std::filesystem::path& path);
  ObjectFile(ObjectFile&&) noexcept;
  ObjectFile& operator=(ObjectFile&&) noexcept;
  ~ObjectFile();

  [[nodiscard]] std::uint32_t size() const;
  [[nodiscard]] SkyObject object(std::uint32_t number) const;  // number < size()
  // Parts of it, without the cost of the names. The size is 0 where it is not known.
  [[nodiscard]] sky::Direction place(std::uint32_t number) const;
  [[nodiscard]] double major_arcmin(std::uint32_t number) const;

  // Numbers of the objects whose centre lies within radius_rad of a direction, nearest first.
  [[nodiscard]] std::vector<std::uint32_t> cone(sky::Direction centre, double radius_rad) const;
  // Between two right ascensions (eastwards from the first, across 0 h too) and two declinations, by number.
  [[nodiscard]] std::vector<std::uint32_t> box(double ra_from_rad, double ra_to_rad, double dec_from_rad,
                                               double dec_to_rad) const;

  // By any of its names in any spelling (object_name.h); a proper name may be cut short when one object alone, or one
  // that is brighter than the others, begins so.
  [[nodiscard]] std::optional<std::uint32_t> find(std::string_view name) const;
  // Names that look like it, the most alike first: `count` at most.
  [[nodiscard]] std::vector<std::string> suggest(std::string_view name, std::size_t count) const;

 private:
  struct Content;
  explicit ObjectFile(std::unique_ptr<Content> content);
  std::unique_ptr<Content> content_;
};

// Mean surface brightness in magnitudes per square arcsecond: the magnitude spread over the ellipse.
[[nodiscard]] std::optional<double> surface_brightness(const SkyObject& object);

// The bytes of such a file; hosts are found here: an object that is no galaxy lies in the nearest galaxy of 10 arcmin
// or more whose circle of the larger diameter holds it. Errors: kInvalidInput (a place off the sky, an object without
// name).
[[nodiscard]] Result<std::vector<std::byte>> encode_object_file(std::span<const SkyObject> objects);

}  // namespace ng::catalog
