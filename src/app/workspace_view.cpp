#include "app/workspace_view.h"

#include <algorithm>
#include <chrono>

#include "app/calibration_master.h"
#include "app/workspace.h"
#include "io/open_frame.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

// Files below a folder, in order; none where it is not there.
std::vector<fs::path> files_below(const fs::path& folder) {
  std::vector<fs::path> files;
  std::error_code error;
  for (fs::recursive_directory_iterator it(folder, fs::directory_options::skip_permission_denied, error), end;
       !error && it != end; it.increment(error))
    if (it->is_regular_file(error) && it->path().filename().string().front() != '.') files.push_back(it->path());
  std::sort(files.begin(), files.end());
  return files;
}

bool has_extension(const fs::path& path, std::initializer_list<const char*> extensions) {
  return std::any_of(extensions.begin(), extensions.end(), [&](const char* e) { return path.extension() == e; });
}

std::string changed(const fs::path& path) {
  std::error_code error;
  const auto when = fs::last_write_time(path, error);
  if (error) return {};
  const auto utc = std::chrono::file_clock::to_sys(when).time_since_epoch();
  return Instant::from_unix_us(std::chrono::duration_cast<std::chrono::microseconds>(utc).count()).iso();
}

void add_masters(const fs::path& folder, std::vector<WorkspaceFile>& masters) {
  for (const fs::path& path : files_below(folder / "masters")) {
    if (!has_extension(path, {".fits", ".fit"}) || is_calibration_master(path)) continue;
    const auto source = io::open_frame(path);
    if (!source.ok()) continue;
    const FrameFacts& facts = (*source)->facts();
    masters.push_back({path.lexically_relative(folder).generic_string(), facts.object, facts.filter, facts.width,
                       facts.height, facts.planes, facts.exposure_s, changed(path)});
  }
}

// Each folder directly below frames/ with anything in it.
void add_nights(const fs::path& folder, std::vector<WorkspaceNight>& nights) {
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(folder / "frames", error)) {
    if (!entry.is_directory(error)) continue;
    const auto files = files_below(entry.path());
    if (!files.empty())
      nights.push_back({entry.path().lexically_relative(folder).generic_string(), static_cast<int>(files.size())});
  }
  std::sort(nights.begin(), nights.end(), [](const auto& a, const auto& b) { return a.path < b.path; });
}

}  // namespace

Result<WorkspaceReply> view_workspace(const WorkspaceRequest& request, const Context&) {
  NG_TRY(const Workspace w, open_workspace(request.workspace));
  WorkspaceReply reply;
  reply.folder = fs::weakly_canonical(w.folder).filename().string();
  reply.site = w.site.name;
  reply.time_zone = w.site.time_zone;
  reply.latitude_deg = w.site.latitude_deg;
  reply.longitude_deg = w.site.longitude_deg;
  reply.elevation_m = w.site.elevation_m;
  reply.sky_mag_arcsec2 = w.site.sky_mag_arcsec2;
  reply.seeing_fwhm_arcsec = w.site.seeing_fwhm_arcsec;
  reply.rig = w.rig.name;
  reply.aperture_mm = w.rig.optics.aperture_mm;
  reply.focal_length_mm = w.rig.optics.effective_focal_length_mm();
  reply.f_ratio = reply.focal_length_mm / reply.aperture_mm;
  reply.scale_arcsec_px = w.rig.scale_arcsec_px();
  reply.field_width_deg = w.rig.field_width_deg();
  reply.field_height_deg = w.rig.field_height_deg();
  reply.width_px = w.rig.sensor.width;
  reply.height_px = w.rig.sensor.height;
  reply.pixel_um = w.rig.sensor.pixel_um;
  for (const rig::Filter& f : w.rig.filters) reply.filters.push_back({f.name, f.centre_nm, f.width_nm});
  reply.lowest_altitude_deg = w.site.lowest_altitude_deg;
  for (int azimuth = 0; azimuth < 360; azimuth += 5) reply.limit_deg.push_back(w.site.limit_deg(azimuth));
  reply.notes = w.notes;
  add_nights(w.folder, reply.nights);
  add_masters(w.folder, reply.masters);
  for (const fs::path& path : files_below(w.folder / "pictures"))
    if (has_extension(path, {".png", ".jpg"}))
      reply.pictures.push_back(path.lexically_relative(w.folder).generic_string());
  return reply;
}

}  // namespace ng::app
