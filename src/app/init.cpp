#include "app/init.h"

#include <fmt/format.h>

#include <cstdlib>
#include <map>

#include "app/init_templates.h"
#include "app/text_file.h"
#include "app/workspace.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;
using Values = std::map<std::string, std::string>;

// TZ, else what /etc/localtime points to; UTC when neither names a zone.
std::string system_zone() {
  constexpr std::string_view kRoot = "zoneinfo/";
  std::error_code failure;
  const char* variable = std::getenv("TZ");  // NOLINT(concurrency-mt-unsafe): nobody sets the environment
  std::string zone = variable != nullptr ? variable : fs::read_symlink("/etc/localtime", failure).string();
  if (const auto at = zone.find(kRoot); at != std::string::npos) zone.erase(0, at + kRoot.size());
  const bool known = !zone.empty() && zone.front() != '/' && zone.front() != ':' &&
                     fs::is_regular_file(fs::path("/usr/share/zoneinfo") / zone, failure);
  return known ? zone : "UTC";
}

std::string filled(std::string text, const Values& values) {
  for (const auto& [key, value] : values) {
    const std::string mark = "@" + key + "@";
    for (std::size_t at = text.find(mark); at != std::string::npos; at = text.find(mark, at + value.size()))
      text.replace(at, mark.size(), value);
  }
  return text;
}

// The value given, or that of the invented one, which is then to be changed.
class Filler {
 public:
  Filler(std::string file, std::vector<std::string>& to_change) : file_(std::move(file)), to_change_(to_change) {}
  template <typename T>
  void number(const char* key, const std::optional<T>& given, T invented) {
    values_[key] = fmt::format("{}", given.value_or(invented));
    if (!given) to_change_.push_back(file_ + ": " + key);
  }
  void text(const char* key, const std::string& value) { values_[key] = value; }
  [[nodiscard]] const Values& values() const { return values_; }

 private:
  std::string file_;
  std::vector<std::string>& to_change_;
  Values values_;
};

Values site_values(const InitRequest& r, InitReply& reply) {
  Filler f("site.toml", reply.to_change);
  f.number("latitude_deg", r.latitude_deg, 46.4);
  f.number("longitude_deg", r.longitude_deg, 9.3);
  f.number("elevation_m", r.elevation_m, 840.0);
  f.number("zenith_mag_arcsec2", r.sky_mag_arcsec2, 21.0);
  f.text("time_zone", reply.time_zone);
  f.text("name", r.site_name.value_or(r.latitude_deg ? "Garden" : "Larch Hollow (invented)"));
  return f.values();
}

Values rig_values(const InitRequest& r, InitReply& reply) {
  Filler f("rig.toml", reply.to_change);
  f.number("aperture_mm", r.aperture_mm, 130.0);
  f.number("focal_length_mm", r.focal_length_mm, 650.0);
  f.number("pixel_um", r.pixel_um, 4.2);
  f.number("width_px", r.width_px, 4240);
  f.number("height_px", r.height_px, 2832);
  f.text("obstruction_mm", fmt::format("{}", r.obstruction_mm.value_or(0)));
  f.text("reducer", fmt::format("{:.3g}", r.reducer.value_or(1)));
  f.text("name", r.aperture_mm ? fmt::format("{} mm telescope", *r.aperture_mm) : "130 mm refractor (invented)");
  return f.values();
}

// A quote, a backslash or a line break would end the text in the file.
bool is_plain(const std::string& text) {
  return text.find_first_of("\"\\\n\r") == std::string::npos;
}

}  // namespace

Result<InitReply> init(const InitRequest& r, const Context& ctx) {
  InitReply reply;
  reply.folder = r.folder.string();
  reply.time_zone = r.time_zone.value_or(system_zone());
  if (!is_plain(r.site_name.value_or("")))
    return Error(Code::kInvalidInput, "the name of the site may hold no quotes, backslashes or line breaks");
  if (!is_plain(reply.time_zone)) return Error(Code::kInvalidInput, "that is no name of a time zone");

  struct File {
    const char* name;
    std::string text;
  };
  // The new files must read back without complaint before anything is written.
  const std::string site = filled(kSiteTemplate, site_values(r, reply));
  const std::string rig = filled(kRigTemplate, rig_values(r, reply));
  if (const auto read = parse_site(site, "the values given for site.toml", r.folder); !read.ok()) return read.error();
  if (const auto read = parse_rig(rig, "the values given for rig.toml"); !read.ok()) return read.error();

  std::error_code failure;
  for (const char* folder : {"", "frames", "masters", "pictures"}) {
    const fs::path path = r.folder / folder;
    if (fs::is_directory(path, failure)) continue;
    if (!fs::create_directories(path, failure) && failure)
      return Error(Code::kIo, fmt::format("cannot make the folder {}: {}", path.string(), failure.message()));
    if (*folder != 0) reply.written.push_back(std::string(folder) + "/");
  }
  for (const File& file : {File{"site.toml", site}, File{"rig.toml", rig}}) {
    if (ctx.cancelled()) return Error(Code::kCancelled, "stopped; what was written is whole");
    if (fs::exists(r.folder / file.name, failure)) {
      reply.kept.emplace_back(file.name);
      std::erase_if(reply.to_change, [&](const std::string& key) { return key.rfind(file.name, 0) == 0; });
      continue;
    }
    NG_CHECK(write_text(r.folder / file.name, file.text, io::Overwrite::kRefuse));
    reply.written.emplace_back(file.name);
  }
  if (reply.written.empty())
    return Error(Code::kExists, fmt::format("{} is a workspace already: change its site.toml and rig.toml by hand",
                                            r.folder.string()));
  return reply;
}

}  // namespace ng::app
